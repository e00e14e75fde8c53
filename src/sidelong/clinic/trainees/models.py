"""Tables of a trainee's way from referral to booklet: codes only, no names.

What was answered, decided, seen and issued is added to and never overwritten: a correction is a new
row, so that what was known at any step can be looked up later.
"""

from django.db import models

from sidelong.clinic.audit.locks import LockedModel
from sidelong.clinic.protocols.models import LadderVersion, ProtocolVersion


class Trainee(LockedModel):
    """One trainee."""

    code = models.CharField(max_length=16, primary_key=True)
    site = models.CharField(max_length=40)
    language = models.CharField(max_length=16, default="en")
    entered = models.DateTimeField()
    entered_by = models.CharField("audit key of who entered it", max_length=80)

    class Meta:
        """Newest first."""

        ordering = ("-entered", "code")

    def __str__(self) -> str:
        """Show the code."""
        return self.code


class ReferralRow(LockedModel):
    """One referral with its answers; see :class:`sidelong.training.referral.Referral`.

    A correction is a new row: what was known when something was decided can be looked up.
    """

    trainee = models.ForeignKey(Trainee, on_delete=models.PROTECT, related_name="referrals")
    version = models.PositiveSmallIntegerField()
    age_years = models.PositiveSmallIntegerField(null=True)
    band = models.CharField(max_length=40, blank=True)
    form = models.CharField(max_length=20)
    referred = models.DateField(null=True)
    last_change = models.DateField(null=True)
    answers = models.JSONField(default=dict)
    written = models.DateTimeField()
    written_by = models.CharField("audit key of who wrote it", max_length=80)

    class Meta:
        """Oldest version first, each once."""

        ordering = ("trainee", "version")
        constraints = (
            models.UniqueConstraint(fields=("trainee", "version"), name="trainees_referral_once"),
        )

    def __str__(self) -> str:
        """Show whose and which."""
        return f"referral {self.version} of {self.trainee_id}"


class Course(LockedModel):
    """One run through the programme."""

    trainee = models.ForeignKey(Trainee, on_delete=models.PROTECT, related_name="courses")
    number = models.PositiveSmallIntegerField()
    opened = models.DateTimeField()
    opened_by = models.CharField("audit key of who opened it", max_length=80)
    closed = models.DateTimeField(null=True)
    closed_by = models.CharField("audit key of who closed it", max_length=80, blank=True)
    why_closed = models.CharField(max_length=20, blank=True)

    class Meta:
        """Numbered from 1; one open at a time; closing is said whole or not at all."""

        ordering = ("trainee", "number")
        constraints = (
            models.UniqueConstraint(fields=("trainee", "number"), name="trainees_course_once"),
            models.UniqueConstraint(
                fields=("trainee",),
                condition=models.Q(closed__isnull=True),
                name="trainees_one_open_course",
            ),
            models.CheckConstraint(
                condition=models.Q(closed__isnull=True, closed_by="", why_closed="")
                | (
                    models.Q(closed__isnull=False)
                    & ~models.Q(closed_by="")
                    & ~models.Q(why_closed="")
                ),
                name="trainees_closing_said_whole",
            ),
        )

    def __str__(self) -> str:
        """Show whose and which."""
        return f"course {self.number} of {self.trainee_id}"


class AnswerRow(LockedModel):
    """One answer, saved as it was given; the latest on a question counts."""

    referral = models.ForeignKey(ReferralRow, on_delete=models.PROTECT, related_name="given")
    question = models.CharField(max_length=60)
    answer = models.CharField(max_length=10)
    written = models.DateTimeField()
    written_by = models.CharField("audit key of who wrote it", max_length=80)

    class Meta:
        """In the order in which they were given."""

        ordering = ("pk",)

    def __str__(self) -> str:
        """Show the question, not the answer."""
        return f"answer on {self.question} of referral {self.referral_id}"


class DecisionRow(LockedModel):
    """One clinician's decision; see :class:`sidelong.training.referral.Decision`."""

    trainee = models.ForeignKey(Trainee, on_delete=models.PROTECT, related_name="decisions")
    gate = models.CharField("gate, or practice as a whole", max_length=60)
    decided = models.CharField(max_length=20)
    decided_by = models.CharField("clinician, as staff are named", max_length=80)
    role = models.CharField(max_length=80)
    decided_on = models.DateField()
    expires_on = models.DateField()
    reason = models.CharField(max_length=500)
    gives_back = models.JSONField(default=list)
    takes_out = models.JSONField(default=list)
    lifts = models.JSONField(default=list)
    max_piece_mm = models.FloatField(null=True)
    water_ml = models.FloatField(null=True)
    written = models.DateTimeField()
    written_by = models.CharField("audit key of who wrote it", max_length=80)

    class Meta:
        """In the order in which they were written; ends after it begins."""

        ordering = ("pk",)
        constraints = (
            models.CheckConstraint(
                condition=models.Q(expires_on__gte=models.F("decided_on")),
                name="trainees_decision_ends_after_it_begins",
            ),
            models.CheckConstraint(
                condition=~models.Q(decided_by="") & ~models.Q(role="") & ~models.Q(reason=""),
                name="trainees_decision_of_somebody",
            ),
        )

    def __str__(self) -> str:
        """Show whose and about what."""
        return f"decision on {self.gate} for {self.trainee_id}"


class VisitRow(LockedModel):
    """One teaching visit; see :class:`sidelong.clinic.trainees.visit.TeachingVisit`."""

    course = models.ForeignKey(Course, on_delete=models.PROTECT, related_name="visits")
    version = models.PositiveSmallIntegerField()
    held_on = models.DateField()
    adult_present = models.BooleanField()
    trainee_agreed = models.BooleanField()
    seen = models.JSONField("what was seen in each position", default=list)
    piece = models.CharField("code of the largest piece tried", max_length=40, blank=True)
    scale = models.PositiveSmallIntegerField(null=True)
    seen_cleanly = models.BooleanField("a piece was seen swallowed cleanly")
    released = models.BooleanField("pieces may go home")
    written = models.DateTimeField()
    written_by = models.CharField("audit key of who wrote it", max_length=80)

    class Meta:
        """Oldest version first; nothing goes home that was not seen swallowed cleanly."""

        ordering = ("course", "version")
        constraints = (
            models.UniqueConstraint(fields=("course", "version"), name="trainees_visit_once"),
            models.CheckConstraint(
                condition=models.Q(released=False)
                | models.Q(seen_cleanly=True, adult_present=True, trainee_agreed=True),
                name="trainees_released_if_seen_cleanly",
            ),
        )

    def __str__(self) -> str:
        """Show whose and which."""
        return f"visit {self.version} of course {self.course_id}"


class Allocation(LockedModel):
    """The commitment to one secret key, recorded before its first draw; the key lies elsewhere."""

    key_name = models.CharField("name of the key on the key ring", max_length=40, unique=True)
    commitment = models.CharField(max_length=64, unique=True)
    orders_table = models.CharField("SHA-256 of the table of base orders", max_length=64)
    program = models.CharField(max_length=40)
    begun = models.DateTimeField()
    begun_by = models.CharField("audit key of who began it", max_length=80)

    class Meta:
        """Oldest first."""

        ordering = ("pk",)

    def __str__(self) -> str:
        """Show the key's name."""
        return f"allocation with {self.key_name}"


class Stream(LockedModel):
    """How many places of a stream have been handed out; read under a row lock."""

    allocation = models.ForeignKey(Allocation, on_delete=models.PROTECT, related_name="streams")
    label = models.CharField(max_length=200)
    n_taken = models.PositiveIntegerField(default=0)

    class Meta:
        """Each stream counts once."""

        constraints = (
            models.UniqueConstraint(fields=("allocation", "label"), name="trainees_stream_once"),
        )

    def __str__(self) -> str:
        """Show the label."""
        return self.label


class PlanRow(LockedModel):
    """One version of a plan; see :class:`sidelong.training.plan.Plan`.

    It cannot exist without the decision, the visit and the protocol that it rests on.
    """

    course = models.ForeignKey(Course, on_delete=models.PROTECT, related_name="plans")
    version = models.PositiveSmallIntegerField()
    band = models.CharField(max_length=40, blank=True)
    start = models.DateField(null=True)
    nights = models.JSONField("orders and pieces of all nights")
    scale = models.PositiveSmallIntegerField("form of the rating; empty for a supporter", null=True)
    commitment = models.CharField(max_length=64)
    stream = models.CharField(max_length=200)
    stream_index = models.PositiveIntegerField()
    protocol = models.ForeignKey(ProtocolVersion, on_delete=models.PROTECT, related_name="+")
    ladder = models.ForeignKey(LadderVersion, on_delete=models.PROTECT, related_name="+")
    decision = models.ForeignKey(DecisionRow, on_delete=models.PROTECT, related_name="+")
    visit = models.ForeignKey(VisitRow, on_delete=models.PROTECT, related_name="+")
    issued = models.DateTimeField()
    issued_by = models.CharField("audit key of who issued it", max_length=80)

    class Meta:
        """Each version once, and each place of a stream once."""

        ordering = ("course", "version")
        constraints = (
            models.UniqueConstraint(fields=("course", "version"), name="trainees_plan_once"),
            models.UniqueConstraint(
                fields=("commitment", "stream", "stream_index"), name="trainees_place_once"
            ),
        )

    def __str__(self) -> str:
        """Show whose and which."""
        return f"plan {self.version} of course {self.course_id}"


class BookletRow(LockedModel):
    """One booklet that was made: what was handed out, not the pages themselves."""

    plan = models.ForeignKey(PlanRow, on_delete=models.PROTECT, related_name="booklets")
    number = models.PositiveSmallIntegerField("which one of its course, from 1", default=1)
    printed_number = models.PositiveSmallIntegerField("the number that its sheets say", default=1)
    key = models.PositiveSmallIntegerField("number among the markers", default=0)
    second_key = models.PositiveSmallIntegerField(
        "number among the markers of second pages", default=0
    )
    audience = models.CharField("for whom it speaks; empty: by age band", max_length=10, blank=True)
    edition = models.CharField("how large it is set", max_length=10, default="standard")
    paper = models.CharField(max_length=10)
    language = models.CharField(max_length=16)
    digest = models.CharField("SHA-256 of the PDF", max_length=64)
    made = models.DateTimeField()
    made_by = models.CharField("audit key of who made it", max_length=80)

    class Meta:
        """Oldest first."""

        ordering = ("pk",)

    def __str__(self) -> str:
        """Show of which plan."""
        return f"booklet of plan {self.plan_id}"
