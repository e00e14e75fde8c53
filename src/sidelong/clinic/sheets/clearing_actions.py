"""Deleting the pixels of photographs once the site's time is over."""

from datetime import datetime, timedelta

from sidelong.clinic.accounts.people import Person, demand
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.audit.acts import act
from sidelong.clinic.sheets.models import PhotoRow
from sidelong.clinic.sheets.rows import photo_store


def remove_old_photographs(*, older_than: timedelta, now: datetime, by: Person) -> int:
    """Delete pixels after the site's time, of photographs whose sheets are all done with.

    Parameters
    ----------
    older_than : timedelta
        Since they were received.
    now : datetime
        When, with its offset.
    by : Person
        Who has it done.

    Returns
    -------
    int
        How many were deleted; files that no row names go with them, uncounted.
    """
    demand(Permission.CLEAR_PHOTOGRAPHS, of=by)
    store = photo_store()
    due = PhotoRow.objects.filter(removed=None, received__lt=now - older_than).exclude(
        sheets__kept=None
    )
    names = []
    if due.exists():
        with act("photographs deleted", by=by, subject="installation") as doing:
            for photo in due:
                photo.removed = now
                photo.save()
                names.append(photo.name)
            doing.note(photographs=len(names), days=older_than.days)
    for name in names:
        store.remove(name)
    known = set(PhotoRow.objects.filter(removed=None).values_list("name", flat=True))
    store.sweep(known, now=now)
    return len(names)
