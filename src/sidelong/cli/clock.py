"""Where commands ask what day it is; everything below is told."""

from datetime import UTC, date, datetime


def local_today() -> date:
    """Give today's date in this machine's time zone."""
    return datetime.now(UTC).astimezone().date()
