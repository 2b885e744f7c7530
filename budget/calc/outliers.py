"""Quotes that are suspiciously low: a reason to ask the vendor, not to award."""

from collections.abc import Mapping

from budget.calc.levelling import median

#: A levelled amount more than this share under the middle one is asked about.
UNDER_MIDDLE_PERCENT = 15
#: With fewer quotes there is no middle worth the name.
ENOUGH_QUOTES = 3


def far_below(levelled: Mapping[str, int]) -> frozenset[str]:
    """Name the quotes that lie more than 15 % under the middle levelled amount.

    Args:
        levelled: {quote: levelled amount [minor units]} of the complete quotes on one line.
    Returns: their keys; none under three quotes.
    Source: common practice in comparing tenders ("ask, do not award"); the figure of 15 % is ours, ADR 0104 names the middle.

    >>> sorted(far_below({"a": 8499, "b": 10000, "c": 10400})), far_below({"a": 8500, "b": 10000, "c": 10400})
    (['a'], frozenset())
    """
    if len(levelled) < ENOUGH_QUOTES:
        return frozenset()
    middle = median(sorted(levelled.values()))
    return frozenset(key for key, amount in levelled.items() if 100 * amount < (100 - UNDER_MIDDLE_PERCENT) * middle)
