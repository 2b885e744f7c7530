"""Which of many things that wait comes first.

Worst first means: what is late, the latest first; then what runs out, the soonest first; then what has no date. Of
equals the larger sum comes first, for more is lost by leaving it.
"""


def place(days_left: int | None, amount_minor: int) -> tuple[bool, int, int]:
    """Give the sort key of a thing that waits: smaller comes first.

    Args:
        days_left: days until it is too late, below zero when it is; None when it has no date.
        amount_minor: the money at stake [minor units].
    Source: our rule.

    >>> waiting = {"late": place(-4, 10), "tomorrow": place(1, 5), "dear": place(1, 9), "undated": place(None, 99)}
    >>> sorted(waiting, key=waiting.get)
    ['late', 'dear', 'tomorrow', 'undated']
    """
    return (days_left is None, days_left or 0, -abs(amount_minor))
