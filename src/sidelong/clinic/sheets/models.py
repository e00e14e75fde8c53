"""Tables of photographed sheets: what came, what was read, what a person said, what was kept.

Pixels lie outside the database, sealed, under the name that the row gives them. Readings and
answers are added and never changed; pixels go after the site's time, and the row says so. What is
written by hand, once somebody has typed it, outlives them and is sealed in its row.
"""

from typing import Any

from django.db import models

from sidelong.clinic.audit.locks import LockedModel
from sidelong.clinic.practice.models import AddedModel, NightEntry
from sidelong.clinic.sealed_columns import SealedField
from sidelong.clinic.trainees.models import Course


class PhotoRow(LockedModel):
    """One photograph that came for a course; once received, only its pixels may go."""

    course = models.ForeignKey(Course, on_delete=models.PROTECT, related_name="sheet_photos")
    name = models.CharField("name of the sealed file", max_length=32, unique=True)
    digest = models.CharField("SHA-256 of the washed pixels", max_length=64)
    received = models.DateTimeField()
    received_by = models.CharField("audit key of who sent it in", max_length=80)
    removed = models.DateTimeField("when its pixels were deleted", null=True)

    class Meta:
        """Oldest first; the same photograph once in a course."""

        ordering = ("pk",)
        constraints = (
            models.UniqueConstraint(fields=("course", "digest"), name="sheets_photo_once"),
        )

    def __str__(self) -> str:
        """Show which."""
        return f"photograph {self.pk} of course {self.course_id}"


class ReadingRow(AddedModel):
    """One sheet of a photograph, as the computer read it."""

    photo = models.ForeignKey(PhotoRow, on_delete=models.PROTECT, related_name="sheets")
    page_id = models.CharField(max_length=80)
    is_sure = models.BooleanField("tags and code leave no doubt which page it is")
    plan_version = models.PositiveSmallIntegerField()
    night = models.PositiveSmallIntegerField("number of the sheet; none on a spare one", null=True)
    part = models.PositiveSmallIntegerField("1 or 2 for a page of the large print", default=0)
    order: Any = models.JSONField(
        "positions of its slots; none: as the plan has them", default=list
    )
    print_scale = models.FloatField("printed over true length", null=True)
    fields: Any = models.JSONField("value, confidence, accepted by field")
    boxes: Any = models.JSONField("left, top, width, height by field and write-in area, mm")
    program = models.CharField("version that read it", max_length=40)
    read = models.DateTimeField()

    class Meta:
        """A page once in a photograph."""

        ordering = ("pk",)
        constraints = (
            models.UniqueConstraint(fields=("photo", "page_id"), name="sheets_page_once"),
        )

    def __str__(self) -> str:
        """Show which."""
        return f"sheet {self.pk} of photograph {self.photo_id}"


class AnswerSaid(AddedModel):
    """What a person says that a field shows; the last one counts, also where it takes one back."""

    sheet = models.ForeignKey(ReadingRow, on_delete=models.PROTECT, related_name="said")
    field = models.CharField(max_length=40)
    value = models.CharField("empty for nothing marked", max_length=40, blank=True)
    is_taken_back = models.BooleanField(default=False)
    at = models.DateTimeField()
    by = models.CharField("audit key of who looked", max_length=80)

    class Meta:
        """In the order in which they were said."""

        ordering = ("pk",)

    def __str__(self) -> str:
        """Show of what."""
        return f"{self.field} of sheet {self.sheet_id}"


class SpareNight(AddedModel):
    """Which night a spare sheet stands for, as a person reads it there; the last one counts."""

    sheet = models.ForeignKey(ReadingRow, on_delete=models.PROTECT, related_name="stands_for")
    night = models.PositiveSmallIntegerField("none: taken back", null=True)
    at = models.DateTimeField()
    by = models.CharField("audit key of who looked", max_length=80)

    class Meta:
        """In the order in which they were said."""

        ordering = ("pk",)

    def __str__(self) -> str:
        """Show of what."""
        return f"night {self.night} for sheet {self.sheet_id}"


class NoteSaid(AddedModel):
    """What a person reads in one area written by hand; the last one counts, also taken back."""

    sheet = models.ForeignKey(ReadingRow, on_delete=models.PROTECT, related_name="notes_said")
    area = models.CharField("for example note.0", max_length=40)
    # What is sealed must be bound to a key of its row before that is saved, so chance draws one.
    name = models.CharField("what the sealed text is bound to", max_length=32, unique=True)
    text = SealedField(verbose_name="sealed; nothing where it was taken back")
    is_taken_back = models.BooleanField(default=False)
    at = models.DateTimeField()
    by = models.CharField("audit key of who typed it", max_length=80)

    class Meta:
        """In the order in which they were typed."""

        ordering = ("pk",)

    def __str__(self) -> str:
        """Show of what."""
        return f"{self.area} of sheet {self.sheet_id}"


class SheetKept(AddedModel):
    """That a person confirmed a sheet, and which version of the night it became."""

    sheet = models.OneToOneField(ReadingRow, on_delete=models.PROTECT, related_name="kept")
    entry = models.ForeignKey(
        NightEntry, on_delete=models.PROTECT, null=True, related_name="from_sheets"
    )
    outcome = models.CharField("kept, compared or set aside", max_length=12)
    at = models.DateTimeField()
    by = models.CharField("audit key of who confirmed it", max_length=80)

    class Meta:
        """Oldest first."""

        ordering = ("pk",)

    def __str__(self) -> str:
        """Show which."""
        return f"sheet {self.sheet_id}: {self.outcome}"
