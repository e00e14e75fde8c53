"""Looking through photographs once a day, while pages are visited: no server needs a restart."""

import logging
from datetime import datetime, timedelta

from django.conf import settings
from django.core.cache import cache
from django.db import DatabaseError

from sidelong.clinic.accounts.people import Operator
from sidelong.clinic.sheets.clearing_actions import remove_old_photographs

_LOOKED = "photographs-looked-through"
_A_DAY, _AN_HOUR = 24 * 3600, 3600
_journal = logging.getLogger(__name__)


def clear_when_due(*, now: datetime) -> None:
    """Delete pixels after the site's time, at most once a day; a start of the server does as well.

    Each process remembers for itself when it last looked. A page never fails because of it: what
    could not be deleted is tried again in an hour.

    Parameters
    ----------
    now : datetime
        When, with its offset.
    """
    if not cache.add(_LOOKED, 1, _A_DAY):
        return
    older_than = timedelta(days=settings.INSTALLATION.photograph_days)
    try:
        remove_old_photographs(older_than=older_than, now=now, by=Operator())
    except (DatabaseError, OSError):
        _journal.warning("old photographs were not deleted", exc_info=True)
        cache.set(_LOOKED, 1, _AN_HOUR)
