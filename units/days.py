"""Days of the calendar, without words of an app."""

from datetime import date, timedelta


def monday(day: date) -> date:
    """The Monday of a day's week.

    Source: ISO 8601, a week begins on its Monday.

    >>> monday(date(2027, 1, 29))
    datetime.date(2027, 1, 25)
    """
    return day - timedelta(days=day.weekday())
