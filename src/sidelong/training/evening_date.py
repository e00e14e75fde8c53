"""Which evening a moment belongs to: a night ends at 04:00, not at midnight."""

from datetime import date, datetime, timedelta

NIGHT_ENDS = timedelta(hours=4)


def evening_date(moment: datetime) -> date:
    """Give the date of the evening that a moment belongs to.

    Parameters
    ----------
    moment : datetime
        In the time zone of the site; what its clocks show counts, summer time or not.

    Returns
    -------
    date
        The day before, until 04:00.

    Examples
    --------
    >>> evening_date(datetime(2026, 11, 26, 3, 59)), evening_date(datetime(2026, 11, 26, 4, 0))
    (datetime.date(2026, 11, 25), datetime.date(2026, 11, 26))
    """
    return (moment.replace(tzinfo=None) - NIGHT_ENDS).date()
