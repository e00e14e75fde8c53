"""Where commands ask what day it is, or what time; everything below is told."""

from datetime import UTC, date, datetime


def local_today() -> date:
    """Give today's date in this machine's time zone."""
    return datetime.now(UTC).astimezone().date()


def utc_now() -> datetime:
    """Give the time, to the second."""
    return datetime.now(UTC).replace(microsecond=0)


def local_day(moment: datetime) -> date:
    """Give the day of a moment in this machine's time zone."""
    return moment.astimezone().date()
