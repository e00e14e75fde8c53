"""Tables of practice at home: nights, events, results and their signatures.

Rows are added and never changed, so what was known on any day can be looked up: a correction is a
new version beside the old one. An event alone takes one later addition, a clinician's answer.
"""

from typing import Any

from django.db import models

from sidelong.clinic.audit.locks import LockedModel, OutsideActError
from sidelong.clinic.trainees.models import Course, Trainee

ALL_THE_SAME = "all_the_same"


class AddedModel(LockedModel):
    """A table whose rows are added, inside an act, and never changed."""

    class Meta:
        """Only a base."""

        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Add the row.

        Raises
        ------
        OutsideActError
            If it is there already.
        """
        if self.pk is not None:
            raise OutsideActError("rows of practice are added, never changed")
        super().save(*args, **kwargs)


class NightEntry(AddedModel):
    """One version of what was recorded for one night; the highest version counts."""

    course = models.ForeignKey(Course, on_delete=models.PROTECT, related_name="nights")
    night = models.PositiveSmallIntegerField("number of the sheet")
    version = models.PositiveSmallIntegerField()
    plan_version = models.PositiveSmallIntegerField()
    source = models.CharField("how it reached the clinic", max_length=10)
    evening = models.DateField("date, where one was given", null=True)
    written = models.CharField("when it was written, as the family says", max_length=20, blank=True)
    scale = models.PositiveSmallIntegerField("answers offered")
    rated_by = models.CharField(max_length=12, blank=True)
    felt_best = models.CharField("position, all_the_same or blank", max_length=12, blank=True)
    not_done = models.CharField("why nobody practised", max_length=12, blank=True)
    kept = models.DateTimeField()
    kept_by = models.CharField("audit key of who kept it", max_length=80)

    class Meta:
        """Every version once."""

        ordering = ("course", "night", "version")
        constraints = (
            models.UniqueConstraint(
                fields=("course", "night", "version"), name="practice_night_version_once"
            ),
            models.CheckConstraint(
                condition=models.Q(night__gte=1, version__gte=1), name="practice_night_from_one"
            ),
            models.CheckConstraint(
                condition=models.Q(scale__in=(2, 3, 4, 5)), name="practice_scale_known"
            ),
        )

    def __str__(self) -> str:
        """Show whose and which."""
        return f"night {self.night}, version {self.version}, of course {self.course_id}"


class NightRow(AddedModel):
    """One position of one night, as recorded; a blank stays blank."""

    entry = models.ForeignKey(NightEntry, on_delete=models.PROTECT, related_name="rows")
    slot = models.PositiveSmallIntegerField("place in the night's order")
    position = models.CharField(max_length=8)
    piece_mm = models.FloatField("largest dimension of the piece, mm", null=True)
    rating = models.PositiveSmallIntegerField("1 very hard to 5 very easy", null=True)
    went_down = models.CharField(max_length=8, blank=True)
    why_not = models.CharField(max_length=12, blank=True)

    class Meta:
        """No slot and no position twice in a night."""

        ordering = ("entry", "slot")
        constraints = (
            models.UniqueConstraint(fields=("entry", "slot"), name="practice_slot_once"),
            models.UniqueConstraint(fields=("entry", "position"), name="practice_position_once"),
            models.CheckConstraint(
                condition=models.Q(rating__isnull=True) | models.Q(rating__gte=1, rating__lte=5),
                name="practice_rating_in_range",
            ),
        )

    def __str__(self) -> str:
        """Show which."""
        return f"{self.position} in slot {self.slot}"


class EventRow(LockedModel):
    """Something that happened during practice; see :class:`sidelong.training.event.Event`."""

    course = models.ForeignKey(Course, on_delete=models.PROTECT, related_name="events")
    night = models.PositiveSmallIntegerField("number of the sheet")
    tier = models.CharField(max_length=16)
    position = models.CharField("blank where nobody knows", max_length=8, blank=True)
    kept = models.DateTimeField()
    kept_by = models.CharField("audit key of who recorded it", max_length=80)
    answered = models.DateTimeField(null=True)
    answered_by = models.CharField("audit key of the clinician", max_length=80, blank=True)
    answer = models.CharField(max_length=16, blank=True)

    class Meta:
        """In the order in which they were told; an answer is said whole or not at all."""

        ordering = ("course", "id")
        constraints = (
            models.CheckConstraint(
                condition=models.Q(answered__isnull=True, answered_by="", answer="")
                | (
                    models.Q(answered__isnull=False)
                    & ~models.Q(answered_by="")
                    & ~models.Q(answer="")
                ),
                name="practice_answer_said_whole",
            ),
        )

    def __str__(self) -> str:
        """Show what and when."""
        return f"{self.tier} on night {self.night}"


class Result(AddedModel):
    """An estimate as it was when somebody signed it, with the nights that it rests on."""

    course = models.ForeignKey(Course, on_delete=models.PROTECT, related_name="results")
    number = models.PositiveSmallIntegerField()
    # Text, since what is hashed must come back from every database to the last character.
    content = models.TextField("nights, events, plan and figures, canonical JSON")
    evidence = models.CharField("SHA-256 of what the figures rest on", max_length=64)
    hyperparameters = models.CharField("name of the set", max_length=200)
    program = models.CharField("version of the program", max_length=40)
    made = models.DateTimeField()
    made_by = models.CharField("audit key of who had it made", max_length=80)

    class Meta:
        """Numbered from 1 in each course."""

        ordering = ("course", "number")
        constraints = (
            models.UniqueConstraint(fields=("course", "number"), name="practice_result_once"),
        )

    def __str__(self) -> str:
        """Show which."""
        return f"result {self.number} of course {self.course_id}"


class Signature(AddedModel):
    """A name under one result: what was decided, by whom, over exactly which content."""

    result = models.ForeignKey(Result, on_delete=models.PROTECT, related_name="signatures")
    meaning = models.CharField("what was decided", max_length=24)
    position = models.CharField("blank where none was chosen", max_length=8, blank=True)
    digest = models.CharField("SHA-256 of all that was signed", max_length=64)
    role = models.CharField("as what the signer signed", max_length=20)
    signed = models.CharField("UTC, ISO 8601", max_length=40)
    signed_by = models.CharField("audit key of the signer", max_length=80)
    shown_as = models.CharField("name as colleagues saw it then", max_length=80)

    class Meta:
        """In the order of signing."""

        ordering = ("result", "id")

    def __str__(self) -> str:
        """Show what it says."""
        return f"{self.meaning}, by {self.signed_by}"


class UpSignOff(AddedModel):
    """A swallowing specialist's name under it that ``up`` may be suggested, or its withdrawal."""

    course = models.ForeignKey(Course, on_delete=models.PROTECT, related_name="up_sign_offs")
    meaning = models.CharField("may suggest, or withdrawn", max_length=16)
    reason = models.CharField("what for", max_length=500)
    role = models.CharField("as what the signer signed", max_length=80)
    protocol = models.CharField("fingerprint of the protocol", max_length=64)
    digest = models.CharField("SHA-256 of all that was signed", max_length=64)
    signed = models.CharField("UTC, ISO 8601", max_length=40)
    signed_by = models.CharField("audit key of the signer", max_length=80)
    shown_as = models.CharField("name as colleagues saw it then", max_length=80)

    class Meta:
        """In the order of signing; somebody says what for."""

        ordering = ("course", "id")
        constraints = (
            models.CheckConstraint(
                condition=~models.Q(reason="") & ~models.Q(signed_by=""),
                name="practice_up_signed_by_somebody",
            ),
        )

    def __str__(self) -> str:
        """Show what it says."""
        return f"up {self.meaning}, by {self.signed_by}"


class EstimateLock(AddedModel):
    """An estimate as it stood when a follow-up began; what comes later is laid against it."""

    course = models.ForeignKey(Course, on_delete=models.PROTECT, related_name="locks")
    number = models.PositiveSmallIntegerField()
    follow_up = models.PositiveSmallIntegerField("which follow-up of the course")
    # Text, since what is hashed must come back from every database to the last character.
    lock = models.TextField("the locked estimate, canonical JSON")
    content = models.TextField("nights, events, plan and figures, canonical JSON")
    evidence = models.CharField("SHA-256 of what the figures rest on", max_length=64)
    digest = models.CharField("SHA-256 of lock and content", max_length=64)
    locked = models.DateTimeField()
    locked_by = models.CharField("audit key of who began the follow-up", max_length=80)

    class Meta:
        """Numbered from 1 in each course; the same evidence is locked once in a follow-up."""

        ordering = ("course", "number")
        constraints = (
            models.UniqueConstraint(fields=("course", "number"), name="practice_lock_once"),
            models.UniqueConstraint(
                fields=("course", "follow_up", "evidence"), name="practice_lock_evidence_once"
            ),
            models.CheckConstraint(
                condition=models.Q(number__gte=1, follow_up__gte=1), name="practice_lock_from_one"
            ),
        )

    def __str__(self) -> str:
        """Show which."""
        return f"estimate {self.number} of course {self.course_id}"


class FirstDoseRow(AddedModel):
    """One version of a course's first real dose; the highest version counts."""

    course = models.ForeignKey(Course, on_delete=models.PROTECT, related_name="first_doses")
    version = models.PositiveSmallIntegerField()
    lock = models.ForeignKey(EstimateLock, on_delete=models.PROTECT, related_name="first_doses")
    given_on = models.DateField()
    position = models.CharField("blank where nobody knows", max_length=8, blank=True)
    kind = models.CharField("tablet, capsule or liquid-filled", max_length=16)
    shape = models.CharField(max_length=10)
    largest_mm = models.FloatField("largest dimension, mm")
    seen_by = models.CharField("staff, or home as a report", max_length=8)
    went_down = models.CharField(max_length=8)
    why_not = models.CharField(max_length=12, blank=True)
    rating = models.PositiveSmallIntegerField("1 very hard to 5 very easy", null=True)
    whole = models.BooleanField(null=True)
    unchewed = models.BooleanField(null=True)
    unaided = models.BooleanField(null=True)
    kept = models.DateTimeField()
    kept_by = models.CharField("audit key of who recorded it", max_length=80)

    class Meta:
        """Every version once."""

        ordering = ("course", "version")
        constraints = (
            models.UniqueConstraint(fields=("course", "version"), name="practice_dose_once"),
            models.CheckConstraint(
                condition=models.Q(rating__isnull=True) | models.Q(rating__gte=1, rating__lte=5),
                name="practice_dose_rating_in_range",
            ),
            models.CheckConstraint(
                condition=models.Q(largest_mm__gt=0), name="practice_dose_has_a_size"
            ),
            models.CheckConstraint(
                condition=models.Q(why_not="") | models.Q(went_down="no"),
                name="practice_dose_reason_only_for_no",
            ),
        )

    def __str__(self) -> str:
        """Show whose and which."""
        return f"first dose, version {self.version}, of course {self.course_id}"


class ConsentRow(AddedModel):
    """One answer on whether nights may count towards what is learned of all trainees.

    The last one counts; without any, nobody asked. Nobody's own answer depends on it.
    """

    trainee = models.ForeignKey(Trainee, on_delete=models.PROTECT, related_name="consents")
    answer = models.CharField("yes, no or not asked", max_length=10)
    written = models.DateTimeField()
    written_by = models.CharField("audit key of who wrote it", max_length=80)

    class Meta:
        """In the order in which they were written."""

        ordering = ("pk",)

    def __str__(self) -> str:
        """Show whose."""
        return f"consent of {self.trainee_id}"


class FitRow(AddedModel):
    """What was learned of all trainees with consent; the last one counts while they all consent."""

    key = models.CharField("SHA-256 of the stored fit and its time", max_length=64, unique=True)
    content = models.TextField("the stored fit, as the command writes it")
    trainees = models.JSONField("codes of those it was learned from", default=list)
    made = models.DateTimeField()
    made_by = models.CharField("audit key of who had it made", max_length=80)

    class Meta:
        """Oldest first."""

        ordering = ("pk",)

    def __str__(self) -> str:
        """Show the beginning of the key."""
        return f"fit {self.key[:8]}"
