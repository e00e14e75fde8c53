"""Tables of trainees: codes only, no names."""

from django.db import models

from sidelong.clinic.audit.locks import LockedModel


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
