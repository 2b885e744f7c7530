"""How the day everything is done stands against the day the project wants to open, and what the days cost."""

from datetime import date


def days_against(finish: date, target: date) -> int:
    """Calendar days from the target to the finish; above zero is late.

    Source: common practice; a calendar day of later opening is what the cost of a day is given for.

    >>> days_against(date(2027, 5, 28), date(2027, 5, 21))
    7
    """
    return (finish - target).days


def cost_of_days(days: int, cost_of_day_minor: int) -> int:
    """What opening late costs [minor units]: the days at the cost of a day, nothing where it is in time.

    Args:
        days: days against the target [calendar days], below zero is early.
        cost_of_day_minor: cost of one calendar day of later opening [minor units], not below zero.
    Source: our rule; opening early is not counted as money earned.

    >>> cost_of_days(7, 90000), cost_of_days(-3, 90000)
    (630000, 0)
    """
    return max(0, days) * cost_of_day_minor
