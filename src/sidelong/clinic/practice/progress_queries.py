"""Reading how far practice at home has come."""

from collections.abc import Collection, Mapping
from datetime import date

from django.db.models import Max
from django.utils import timezone

from sidelong.clinic.accounts.people import Person, demand
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.practice.models import NightEntry
from sidelong.training.evening_date import evening_date


def last_heard(codes: Collection[str], *, seen_by: Person) -> Mapping[str, date]:
    """Say on which evening something of the nights of some trainees was written down last.

    Parameters
    ----------
    codes : collection of str
        Codes of the trainees.
    seen_by : Person
        Who looks.

    Returns
    -------
    mapping of str to date
        By code; those of whom nothing was written down are left out.
    """
    demand(Permission.SEE_RESULTS, of=seen_by)
    rows = NightEntry.objects.filter(course__trainee__in=codes).values("course__trainee")
    return {
        row["course__trainee"]: evening_date(timezone.localtime(row["last"]))
        for row in rows.annotate(last=Max("kept")).order_by()
    }
