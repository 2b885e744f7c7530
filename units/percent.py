"""Percentages as they are written on a quote, read exactly."""

import re
from decimal import Decimal

_WRITTEN = re.compile(r"(-?[0-9]{1,9}(?:\.[0-9]{1,12})?)[ \u00a0\u202f]?%")


class NotAPercentage(ValueError):
    """The text is no percentage."""


def fraction(text: str) -> Decimal:
    """Read a written percentage as an exact fraction of one.

    Args:
        text: digits with a point, then "%", a single space between them allowed.
    Returns: the fraction [-], exact, any sign.
    Raises: NotAPercentage.

    >>> fraction("8.25%"), fraction("5 %")
    (Decimal('0.0825'), Decimal('0.05'))
    """
    found = _WRITTEN.fullmatch(text.strip())
    if found is None:
        raise NotAPercentage(f"{text!r:.40} is no percentage such as 8.25%")
    return Decimal(found[1]).scaleb(-2)
