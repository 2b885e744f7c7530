"""Amounts as people write them, read into whole minor units, or refused.

People paste "£ 12,400.00", "12 400", "(1,250.50)" or "EUR 12.400,00". What can be read in one way only is read;
what could be meant in two ways is refused, because a thousandfold slip in a budget costs more than typing it again.
Which mark parts the decimals is told by the caller and never guessed from the text. A refusal carries a kind, not a
sentence, so that a page can say it in its reader's language.
"""

import re
from decimal import Decimal
from typing import Literal

from units.money import CURRENCIES, NotWholeMinor, as_text, digits, to_minor

__all__ = ["LARGEST_MINOR", "NotAnAmount", "for_entry", "meant_by", "parse_amount"]

#: A hundred thousand million major units in a currency with two digits: above every build, below 64 bits.
LARGEST_MINOR = 10**13
LONGEST_TEXT = 60

Kind = Literal[
    "empty", "not a number", "shortened", "other currency", "grouping", "other mark", "decimals", "too large"
]

_MINUSES = "-\u2212\u2013"
_SPACES = " \u00a0\u202f\u2009"
_APOSTROPHES = "'\u2019"
_FIGURE = re.compile(rf"[0-9](?:[0-9.,{_SPACES}{_APOSTROPHES}]*[0-9])?")
_SHORTENED = re.compile(r"(k|m|mio|mn|tsd|thousand|million)\.?", re.IGNORECASE)
#: Countries that group by two above the thousands: 12,34,567.
_LAKH = frozenset({"INR", "PKR", "BDT", "NPR", "LKR"})
_DOLLARS = frozenset(
    {"USD", "CAD", "AUD", "NZD", "SGD", "HKD", "TWD", "MXN", "BBD", "BSD", "BZD"}
    | {"FJD", "JMD", "TTD", "XCD", "BMD", "KYD", "NAD", "BND", "CLP", "COP", "ARS"}
)
#: What stands before or behind a figure, in small letters -> the currencies it may mean.
_SIGNS: dict[str, frozenset[str]] = {
    "£": frozenset({"GBP", "EGP", "FKP", "GIP", "SHP"}),
    "$": _DOLLARS,
    "us$": frozenset({"USD"}),
    "ca$": frozenset({"CAD"}),
    "c$": frozenset({"CAD"}),
    "a$": frozenset({"AUD"}),
    "au$": frozenset({"AUD"}),
    "nz$": frozenset({"NZD"}),
    "s$": frozenset({"SGD"}),
    "hk$": frozenset({"HKD"}),
    "€": frozenset({"EUR"}),
    "¥": frozenset({"JPY", "CNY"}),
    "kr": frozenset({"SEK", "NOK", "DKK", "ISK"}),
    "kr.": frozenset({"SEK", "NOK", "DKK", "ISK"}),
    "fr.": frozenset({"CHF"}),
    "₹": frozenset({"INR"}),
    "zł": frozenset({"PLN"}),
    "kč": frozenset({"CZK"}),
    "ft": frozenset({"HUF"}),
    "r": frozenset({"ZAR"}),
    "r$": frozenset({"BRL"}),
    "₺": frozenset({"TRY"}),
    "₪": frozenset({"ILS"}),
    "₩": frozenset({"KRW"}),
}


class NotAnAmount(ValueError):
    """The text is no amount that can be read in one way only.

    Args:
        kind: what is wrong: "empty", "not a number", "shortened" (18.9k), "other currency", "grouping" (1,23),
            "other mark" (1.234,56 where the point parts the decimals), "decimals" (more than the currency has),
            "too large".
    """

    def __init__(self, kind: Kind) -> None:
        super().__init__(kind)
        self.kind = kind


def parse_amount(text: str, *, currency: str, decimal_mark: str = ".") -> int:
    """Read a written amount.

    Args:
        text: as typed or pasted; a sign of the currency or its code may stand before or behind; brackets or a minus
            before or behind make it negative; thousands may be parted by spaces, apostrophes or the other mark.
        currency: code of ISO 4217 that the amount must be in.
        decimal_mark: "." or ",".
    Returns: [minor units], exact, any sign.
    Raises: NotAnAmount.
    Source: our rule; the ways of writing a negative are those of common spreadsheets and ledgers.

    >>> [parse_amount(text, currency="GBP") for text in ("£ 12,400.00", "12 400", "(1,250.5)", "7.00-")]
    [1240000, 1240000, -125050, -700]
    >>> parse_amount("EUR 12.400,50", currency="EUR", decimal_mark=",")
    1240050
    """
    if len(text) > LONGEST_TEXT:
        raise NotAnAmount("not a number")
    negative, rest = _sign_taken_off(text.strip())
    figure = _currency_taken_off(rest, currency)
    if figure[:1] and figure[0] in _MINUSES and not negative:  # £-5, beside -£5
        negative, figure = True, figure[1:].strip()
    if not figure[0].isdigit():
        raise NotAnAmount("not a number")
    minor = _minor(figure, currency, decimal_mark)
    return -minor if negative else minor


def meant_by(word: str) -> frozenset[str]:
    """Tell which currencies a sign or code beside a figure may mean.

    Args:
        word: such as "£", "US$", "kr" or "EUR"; a code counts in capitals only, since "all" and "try" are words.
    Returns: codes of ISO 4217; empty where it names none.

    >>> sorted(meant_by("€")), sorted(meant_by("EUR")), len(meant_by("$")) > 5, sorted(meant_by("all"))
    (['EUR'], ['EUR'], True, [])
    """
    return frozenset({word}) if word in CURRENCIES else _SIGNS.get(word.lower(), frozenset())


def _sign_taken_off(text: str) -> tuple[bool, str]:
    if not text:
        raise NotAnAmount("empty")
    if text[0] == "(" and text[-1] == ")":
        return True, text[1:-1].strip()
    if text[0] in _MINUSES:
        return True, text[1:].strip()
    if text[-1] in _MINUSES and text[-2:-1] not in (".", ","):  # "12.-" is a price without cents, not a negative
        return True, text[:-1].strip()
    return False, text[1:].strip() if text[0] == "+" else text


def _currency_taken_off(text: str, currency: str) -> str:
    """Take a sign or code of the currency off either end; one of another currency is refused."""
    found = _FIGURE.search(text)
    if found is None:
        raise NotAnAmount("not a number")
    before, after = text[: found.start()].strip(), text[found.end() :].strip()
    minus = before[-1:] if before[-1:] and before[-1] in _MINUSES else ""
    words = [word for word in (before.removesuffix(minus).strip(), after) if word]
    if len(words) > 1 or any(not _names(word, currency) for word in words):
        raise NotAnAmount("not a number")
    return minus + found[0]


def _names(word: str, currency: str) -> bool:
    """True when a word names the currency. Raises: NotAnAmount when it names another, or shortens the figure."""
    meant = _SIGNS.get(word.lower(), frozenset())
    if word.upper() == currency or currency in meant:
        return True
    if meant or word.upper() in CURRENCIES:
        raise NotAnAmount("other currency")
    if _SHORTENED.fullmatch(word):
        raise NotAnAmount("shortened")
    return False


def _minor(figure: str, currency: str, mark: str) -> int:
    whole, parted, part = figure.partition(mark)
    if mark in part or any(other in part for other in (",", ".")):
        raise NotAnAmount("other mark" if "," in figure and "." in figure else "grouping")
    if parted and not (part.isascii() and part.isdigit()):
        raise NotAnAmount("not a number")
    # Three digits behind the mark of a currency with two are most likely thousands; they are never taken for cents.
    if len(part) > max(digits(currency), 2):
        raise NotAnAmount("decimals")
    return _exact(f"{_ungrouped(whole, currency, mark)}.{part or '0'}", currency)


def _ungrouped(whole: str, currency: str, mark: str) -> str:
    """Take the marks between thousands out, when they stand where thousands part."""
    plain = "".join(" " if sign in _SPACES else "'" if sign in _APOSTROPHES else sign for sign in whole)
    marks = set(plain) - set("0123456789")
    if not marks:
        return plain
    separator = marks.pop()
    above = "{2}" if currency in _LAKH and separator == "," else "{3}"
    pattern = rf"[0-9]{{1,3}}(?:{re.escape(separator)}[0-9]{above})*{re.escape(separator)}[0-9]{{3}}"
    threes = rf"[0-9]{{1,3}}(?:{re.escape(separator)}[0-9]{{3}})+"
    if marks or not (re.fullmatch(pattern, plain) or re.fullmatch(threes, plain)) or plain.startswith("0"):
        raise NotAnAmount("other mark" if separator == _other(mark) and len(plain) < 5 else "grouping")
    return plain.replace(separator, "")


def _other(mark: str) -> str:
    return "," if mark == "." else "."


def _exact(plain: str, currency: str) -> int:
    try:
        minor = to_minor(Decimal(plain), currency=currency)
    except NotWholeMinor:
        raise NotAnAmount("decimals") from None
    if minor > LARGEST_MINOR:
        raise NotAnAmount("too large")
    return minor


def for_entry(minor: int, *, currency: str, decimal_mark: str = ".") -> str:
    """Write an amount the way it stands in an entry field: plain digits, so that editing it is easy.

    Args:
        minor: [minor units], any sign.
        currency: code of ISO 4217.
        decimal_mark: "." or ",".
    Returns: text that `parse_amount` reads back to the same amount.

    >>> for_entry(-1240050, currency="EUR", decimal_mark=",")
    '-12400,50'
    """
    return as_text(minor, currency=currency).replace(".", decimal_mark)
