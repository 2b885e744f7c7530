"""Splitting a sum over several parts, and rounding several parts together, without losing or inventing a cent.

Both are largest-remainder apportionment: every part gets its whole minor units, and the spare ones go to the parts
that were cut most, ties to the earlier part. A negative sum is split as its opposite is, so that a credit undoes
exactly what the charge did (ADR 0102).
"""

from collections.abc import Sequence

from units.money import round_ratio


class NothingToShareOver(ValueError):
    """There is a sum to share, but nothing to share it over."""


def share_out(total_minor: int, weights: Sequence[int]) -> tuple[int, ...]:
    """Split an amount over several lines without losing or inventing a cent.

    Args:
        total_minor: amount to split [minor units], may be negative.
        weights: one share per line [-], none below zero, not all zero.
    Returns: one amount per weight [minor units], same order, summing exactly to `total_minor`; spare cents go to
        the largest remainders, ties to the earlier line.
    Raises: NothingToShareOver.
    Source: largest-remainder apportionment; the tie rule is ours (ADR 0102).

    >>> share_out(100, [1, 1, 1]), share_out(-100, [1, 1, 1])
    ((34, 33, 33), (-34, -33, -33))
    """
    if any(weight < 0 for weight in weights):
        raise ValueError("a weight is never below zero")
    whole = sum(weights)
    if whole == 0:
        raise NothingToShareOver("every weight is zero")
    size, sign = abs(total_minor), (1 if total_minor >= 0 else -1)
    parts, remainders = zip(*(divmod(size * weight, whole) for weight in weights), strict=True)
    return tuple(sign * part for part in _with_spares(parts, remainders, size))


def round_together(tops: Sequence[int], bottom: int) -> tuple[int, ...]:
    """Round several exact amounts so that they add up to their rounded sum.

    Args:
        tops: the amounts times `bottom` [minor units], any sign.
        bottom: what all of them are over [-], above zero.
    Returns: whole minor units, same order, summing exactly to the rounded `sum(tops) / bottom`; each less than one
        unit off its exact amount.
    Source: largest-remainder apportionment; the tie rule is ours (ADR 0102).

    >>> round_together([1, 1, 1], 3)
    (1, 0, 0)
    """
    whole = sum(tops)
    if whole < 0:
        return tuple(-part for part in round_together([-top for top in tops], bottom))
    parts = [divmod(top, bottom) for top in tops]
    return _with_spares([part for part, _ in parts], [rest for _, rest in parts], round_ratio(whole, bottom))


def _with_spares(floors: Sequence[int], remainders: Sequence[int], total: int) -> tuple[int, ...]:
    spare = total - sum(floors)
    if not spare:
        return tuple(floors)
    by_remainder = sorted(range(len(floors)), key=lambda place: -remainders[place])  # stable: ties to the earlier
    lucky = set(by_remainder[:spare])
    return tuple(low + (place in lucky) for place, low in enumerate(floors))
