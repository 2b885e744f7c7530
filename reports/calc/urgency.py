"""What is odd about the quotes on a line, and which of many things comes first.

Worst first means: what is late, the latest first; then what runs out, the soonest first; then what has no date. Of
equals the larger sum comes first, for more is lost by leaving it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

#: A price this far under the middle of the others is asked about, not awarded. Common practice, no source.
FAR_UNDER = Fraction(15, 100)


@dataclass(frozen=True, slots=True)
class Priced:
    """An open quote on a line [project minor units]: what its vendor bills, and what it comes to when levelled."""

    vendor: str
    net_minor: int
    levelled_minor: int
    complete: bool
    valid_until: date | None = None


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


def turned(quotes: Sequence[Priced]) -> tuple[Priced, Priced] | None:
    """Tell whether the lowest bill is not the lowest price once levelled.

    Args:
        quotes: the open quotes on one line.
    Returns: the quote that is lowest as billed, and the one that is lowest levelled; None where they are as cheap as
        one another or no quote is complete. Incomplete quotes cannot win.
    Source: our rule, ADR 0104.

    >>> turned([Priced("bare", 900, 1080, True), Priced("whole", 1020, 1020, True)])[1].vendor
    'whole'
    """
    whole = [quote for quote in quotes if quote.complete]
    if not whole:
        return None
    looked = min(quotes, key=lambda quote: (quote.net_minor, quote.levelled_minor))
    won = min(whole, key=lambda quote: quote.levelled_minor)
    ahead = looked.net_minor < won.net_minor
    behind = not looked.complete or looked.levelled_minor > won.levelled_minor
    return (looked, won) if ahead and behind else None


def far_under(quotes: Sequence[Priced]) -> list[tuple[Priced, Fraction]]:
    """Find quotes that lie more than 15 % under the middle levelled one.

    Args:
        quotes: the open quotes on one line; fewer than three have no middle to speak of.
    Returns: (quote, how far under the middle [-]), the furthest first.
    Source: common practice, no source.

    >>> [(q.vendor, float(far)) for q, far in far_under([Priced(v, m, m, True) for v, m in (("a", 80), ("b", 100), ("c", 104))])]
    [('a', 0.2)]
    """
    whole = sorted((quote for quote in quotes if quote.complete), key=lambda quote: quote.levelled_minor)
    if len(whole) < 3:
        return []
    middle = _middle([quote.levelled_minor for quote in whole])
    if middle <= 0:
        return []
    far = [(quote, 1 - Fraction(quote.levelled_minor) / middle) for quote in whole]
    return [(quote, share) for quote, share in far if share > FAR_UNDER]


def _middle(ordered: Sequence[int]) -> Fraction:
    half = len(ordered) // 2
    return Fraction(ordered[half]) if len(ordered) % 2 else Fraction(ordered[half - 1] + ordered[half], 2)
