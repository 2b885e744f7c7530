"""When two invoices may be one: their numbers, amounts and dates held against each other.

An invoice that is sent twice seldom comes back the same: a letter is added, a dash is left out, a digit slips. What is
told here is a doubt for a person to settle, not a proof (ADR 0109).
"""

import re
from dataclasses import dataclass
from datetime import date

#: Within so many days a second bill of the same amount on the same line is doubted; a month's hire is not.
NEAR_DAYS = 14
#: So many letters behind a number are a suffix.
SUFFIX_LETTERS = 2
DIGITS = "0123456789"


@dataclass(frozen=True, slots=True)
class Numbered:
    """What of an invoice is compared: the net amount it bills on one line [minor units], its number and date."""

    vendor: str
    number: str
    line: str
    net_minor: int
    on: date


@dataclass(frozen=True, slots=True)
class LookAlike:
    """An earlier invoice that this one looks like."""

    number: str
    days_apart: int
    same_amount: bool


def number_key(text: str) -> str:
    """Bring an invoice number to the form in which two spellings of it are the same.

    Args:
        text: as it stands on the invoice.
    Returns: lower case, without spaces, punctuation and zeros before a number; never longer than the text. A text
        without letters and digits stays itself.
    Source: our rule, ADR 0109.

    >>> number_key("SP-0418"), number_key("sp 418"), number_key("VM-1187A"), number_key("000")
    ('sp418', 'sp418', 'vm1187a', '0')
    """
    bare = "".join(sign for sign in text.lower() if sign.isalnum())
    key = re.sub(r"(?<![0-9])0+(?=[0-9])", "", bare)
    return (key or text.strip())[: len(text)]


def looks_alike(a: Numbered, b: Numbered) -> bool:
    """Tell whether two invoices may be one.

    Args:
        a, b: either way round.
    Returns: True for two of one vendor that either bill the same net amount on the same line within 14 days, or whose
        numbers are the same but for case, spacing, punctuation, one letter or a suffix of up to two letters. A credit
        note never looks like an invoice.
    Source: our rule, ADR 0109; common practice, no source.

    >>> first = Numbered("Voltmarsh", "VM-1187", "Wiring", 730000, date(2027, 1, 22))
    >>> looks_alike(first, Numbered("Voltmarsh", "VM-1187A", "Wiring", 730000, date(2027, 1, 26)))
    True
    >>> looks_alike(first, Numbered("Voltmarsh", "VM-1188", "Sockets", 903000, date(2027, 1, 22)))
    False
    """
    if a.vendor != b.vendor or (a.net_minor < 0) != (b.net_minor < 0):
        return False
    same = a.line == b.line and a.net_minor == b.net_minor and abs((a.on - b.on).days) <= NEAR_DAYS
    return same or _near(number_key(a.number), number_key(b.number))


def resemblance(earlier: Numbered, later: Numbered) -> LookAlike | None:
    """Say how a later invoice looks like an earlier one.

    Args:
        earlier: the one that came first.
        later: the one in question.
    Returns: the earlier number, the days between them [days, zero or above] and whether the amount on the line is the
        same; None where the two do not look alike.
    Source: our rule, ADR 0109.

    >>> first = Numbered("Voltmarsh", "VM-1187", "Wiring", 730000, date(2027, 1, 22))
    >>> resemblance(first, Numbered("Voltmarsh", "VM-1187A", "Wiring", 730000, date(2027, 1, 26)))
    LookAlike(number='VM-1187', days_apart=4, same_amount=True)
    """
    if not looks_alike(earlier, later):
        return None
    same_amount = earlier.line == later.line and earlier.net_minor == later.net_minor
    return LookAlike(earlier.number, abs((earlier.on - later.on).days), same_amount)


def near_pattern(text: str) -> str:
    """Give a pattern that fits the key of every number that is near a number: the same digits, with letters about them.

    Args:
        text: as it stands on the invoice.
    Returns: a regular expression for `number_key`s, of the plain kind that databases know as well. It fits more than
        what is near, never less.
    Source: our rule, ADR 0109.

    >>> near_pattern("VM-1187A"), near_pattern("SP-0418")
    ('^[^0-9]{2}1187[^0-9]{0,3}$', '^[^0-9]{2}418[^0-9]{0,2}$')
    """
    runs = re.findall(r"[0-9]+|[^0-9]+", number_key(text))
    behind = 0 if not runs or runs[-1][0] in DIGITS else len(runs.pop())
    front = "".join(run if run[0] in DIGITS else f"[^0-9]{{{len(run)}}}" for run in runs)
    return f"^{front}[^0-9]{{{max(0, behind - SUFFIX_LETTERS)},{behind + SUFFIX_LETTERS}}}$"


def misread(read_minor: int, right_minor: int) -> bool:
    """Tell whether one amount is another with a slip of the hand.

    Args:
        read_minor, right_minor: [minor units], either way round.
    Returns: True where two neighbouring digits changed places, or one digit is another.
    Source: our rule, ADR 0109.

    >>> misread(56200, 46200), misread(64200, 46200), misread(56200, 46300)
    (True, True, False)
    """
    a, b = str(read_minor), str(right_minor)
    places = [place for place, (one, other) in enumerate(zip(a, b, strict=False)) if one != other]
    if len(a) != len(b) or not places:
        return False
    first, last = places[0], places[-1]
    swapped = len(places) == 2 and last == first + 1 and (a[first], a[last]) == (b[last], b[first])
    return len(places) == 1 or swapped


def _near(a: str, b: str) -> bool:
    short, long = sorted((a, b), key=len)
    rest = long[len(short) :]
    if short and long.startswith(short) and len(rest) <= SUFFIX_LETTERS and (not rest or rest.isalpha()):
        return True
    other = [(one, two) for one, two in zip(a, b, strict=False) if one != two]
    return len(a) == len(b) and len(other) == 1 and all(sign.isalpha() for sign in other[0])
