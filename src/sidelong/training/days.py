"""Days as a reader says them; tables and file names keep ISO 8601."""

from datetime import date

MONTHS = (
    *("January", "February", "March", "April", "May", "June", "July"),
    *("August", "September", "October", "November", "December"),
)


def say_day(day: date) -> str:
    """Say a day in plain English, whatever the computer's own language is.

    Parameters
    ----------
    day : date
        The day.

    Returns
    -------
    str
        Day of the month, name of the month, year.

    Examples
    --------
    >>> say_day(date(2026, 11, 5))
    '5 November 2026'
    """
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"
