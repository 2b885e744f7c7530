"""What a shift of the finish costs."""

from datetime import date

from schedule.calc import opening


def cost_between(before: date, after: date, target: date, cost_of_day_minor: int) -> int:
    """What the opening costs more when its finish goes from one day to another [minor units]; below zero for less.

    Days before the target cost nothing, so a shift that stays before it is free and one that crosses it is paid in part.

    Args:
        cost_of_day_minor: cost of one calendar day of later opening [minor units], not below zero.
    Source: our rule, that of `opening.cost_of_days`.

    >>> cost_between(date(2027, 5, 20), date(2027, 5, 23), date(2027, 5, 21), 90000)
    180000
    """
    late_before, late_after = opening.days_against(before, target), opening.days_against(after, target)
    return opening.cost_of_days(late_after, cost_of_day_minor) - opening.cost_of_days(late_before, cost_of_day_minor)
