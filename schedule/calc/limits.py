"""A limit as people write it, held against a reading: a hint when the two disagree, never a verdict.

Read are "0.1 bar or less", "1.5 N/mm2 or more", "40 mm +/-5", "+/-3 mm", "+0 / -20 mm", "1 in 60 or steeper", "18 to 22 C" and
"no fall over 0.1 bar". Anything else, and a reading in another unit, is left to the person who looks.
"""

import re
from decimal import Decimal

NUMBER = r"[+\-]?\d+(?:[.,]\d+)?"
UNIT = r"(?:%|[a-z][a-z0-9/.²³]*)?"
Bounds = tuple[Decimal | None, Decimal | None]


def outside(limit: str, reading: str) -> bool | None:
    """Tell whether a reading lies outside of a limit.

    Returns: True or False; None where one of the two cannot be read in one way only, or their units differ.
    Source: our rule, ADR 0404.

    >>> outside("40 mm +/-5", "36 to 43 mm"), outside("0.1 bar or less", "0.15 bar"), outside("as drawing", "ok")
    (False, True, None)
    >>> outside("+0 / -20 mm", "-25 mm"), outside("1 in 60 or steeper", "1 in 52 least"), outside("6.0 bar", "5.9 bar")
    (True, False, None)
    """
    wanted, found = _plain(limit), _plain(reading)
    if slopes := _slopes(wanted, found):
        return slopes[1] > slopes[0]
    bounds, unit = _bounds(wanted)
    values, seen = _values(found)
    if bounds is None or not values or (unit and seen and unit != seen):
        return None
    low, high = bounds
    return any((low is not None and value < low) or (high is not None and value > high) for value in values)


def _plain(text: str) -> str:
    """One way of writing minus, plus-minus and spaces."""
    for sign, plain in (("\u2212", "-"), ("\u2013", "-"), ("±", "+/-"), ("+-", "+/-"), ("\u00a0", " ")):
        text = text.replace(sign, plain)
    return " ".join(text.casefold().split())


def _number(text: str) -> Decimal:
    return Decimal(text.replace(",", "."))


def _slopes(limit: str, reading: str) -> tuple[Decimal, Decimal] | None:
    """The two "1 in n", where the limit asks for at least such a slope."""
    asked = re.fullmatch(r"1 in (\d+(?:\.\d+)?) or steeper", limit)
    found = re.match(r"1 in (\d+(?:\.\d+)?)(?![\d.])", reading)
    return (Decimal(asked[1]), Decimal(found[1])) if asked and found else None


def _bounds(limit: str) -> tuple[Bounds | None, str]:
    """What a limit allows, from and to, and its unit."""
    if found := re.fullmatch(rf"(?:no \w+ over )?({NUMBER}) ?({UNIT})( or less| or drier| or more)?", limit):
        most = found[3] in {" or less", " or drier"} or limit.startswith("no ")
        return _one_sided(_number(found[1]), most=most, least=found[3] == " or more"), found[2]
    if found := re.fullmatch(rf"({NUMBER}) ?({UNIT}) ?\+/- ?(\d+(?:[.,]\d+)?)(?: ?{UNIT})?", limit):
        middle, either = _number(found[1]), _number(found[3])
        return (middle - either, middle + either), found[2]
    if found := re.fullmatch(rf"\+/- ?(\d+(?:[.,]\d+)?) ?({UNIT})(?: .*)?", limit):
        return (-_number(found[1]), _number(found[1])), found[2]
    if found := re.fullmatch(rf"(\+\d+(?:[.,]\d+)?) ?/ ?(-\d+(?:[.,]\d+)?) ?({UNIT})", limit):
        return (_number(found[2]), _number(found[1])), found[3]
    if found := re.fullmatch(rf"({NUMBER}) to ({NUMBER}) ?({UNIT})", limit):
        return (_number(found[1]), _number(found[2])), found[3]
    return None, ""


def _one_sided(bound: Decimal, *, most: bool, least: bool) -> Bounds | None:
    """A bare number is no bound: nobody can tell on which side of it is good."""
    if most:
        return None, bound
    return (bound, None) if least else None


def _values(reading: str) -> tuple[tuple[Decimal, ...], str]:
    """The number that a reading begins with, or the two of a range, and the unit."""
    found = re.fullmatch(rf"(?:worst )?({NUMBER})(?: to ({NUMBER}))? ?({UNIT})(?:[ ,;][^\d]*)?", reading)
    if not found or found[3] in {"to", "of", "at", "in", "and", "or", "x"}:
        return (), ""
    return tuple(_number(one) for one in (found[1], found[2]) if one), found[3]
