"""The step of a trainee's way that photographed sheets add: what waits to be looked at."""

from collections.abc import Mapping, Sequence
from typing import Any

from django.db.models import Count, Q
from django.urls import reverse
from django.utils import timezone

from sidelong.clinic.look import StepState, WayStep
from sidelong.clinic.sheets.models import ReadingRow, SheetKept
from sidelong.clinic.trainees.record import Record
from sidelong.clinic.trainees.recording import staff_names

SHEETS = "Sheets"


def sheet_steps(records: Sequence[Record]) -> Mapping[str, tuple[WayStep, ...]]:
    """Say of each trainee how many photographed sheets of the last course wait.

    Parameters
    ----------
    records : sequence of Record
        Trainees with what is known up to the booklet.

    Returns
    -------
    mapping of str to tuple of WayStep
        By code; nothing where no sheet was photographed.
    """
    courses = {(each.code, each.course): each for each in records}
    counted = (
        ReadingRow.objects.filter(photo__course__trainee__in=[each.code for each in records])
        .values("photo__course", "photo__course__trainee", "photo__course__number")
        .annotate(n=Count("pk"), n_open=Count("pk", filter=Q(kept=None)))
        .order_by()
    )
    steps = {}
    for row in counted:
        key = (row["photo__course__trainee"], row["photo__course__number"])
        if key in courses:
            steps[key[0]] = (_step(courses[key], row),)
    return steps


def _step(record: Record, row: Mapping[str, Any]) -> WayStep:
    url = reverse("sheets", kwargs={"code": record.code, "course": record.course})
    n_open = row["n_open"]
    if n_open:
        note = "One sheet waits" if n_open == 1 else f"{n_open} sheets wait"
        note += " to be looked at and confirmed."
        return WayStep(SHEETS, StepState.NEXT, note=note, url=url, action="Look at the sheets")
    last = SheetKept.objects.filter(sheet__photo__course=row["photo__course"]).latest("pk")
    told = "One sheet came" if row["n"] == 1 else f"{row['n']} sheets came"
    return WayStep(
        SHEETS,
        StepState.DONE,
        by=staff_names().get(last.by, last.by),
        on=timezone.localdate(last.at),
        note=f"{told}; all are done with.",
        url=url,
    )
