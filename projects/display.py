"""How money, dates, durations and shares are written on a page, in the project's locale.

Amounts come as whole minor units and are written digit by digit, so nothing passes through a float; the marks of a
locale (symbol, grouping, decimal mark) are asked of Babel once and kept, because a page may show thousands of cells.
A negative amount bears a true minus (U+2212), so that a column of figures lines up.
"""

import re
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from functools import lru_cache
from typing import Protocol

from babel import Locale, UnknownLocaleError
from babel.dates import format_skeleton
from babel.numbers import format_currency, format_decimal
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from units.money import digits as iso_digits

MINUS = "\u2212"
NO_BREAK = "\u00a0"
_SAMPLE = Decimal("1111111.11")
_FALLBACK = "en_GB"


class Priced(Protocol):
    """Whatever has a currency of account and a locale: a project."""

    currency: str
    locale: str


@dataclass(slots=True)
class InCurrency:
    """Another currency than the project's, written with the marks of its place."""

    currency: str
    locale: str


@dataclass(frozen=True, slots=True)
class Style:
    """The marks of one currency in one locale."""

    prefix: str
    suffix: str
    group: str
    decimal: str
    first_group: int
    next_groups: int
    digits: int


def locale_of(tag: str) -> Locale:
    """Find the locale of a tag such as "en-GB"; an unknown one is read as British English.

    >>> str(locale_of("en-us")), str(locale_of("xx-YY"))
    ('en_US', 'en_GB')
    """
    try:
        return Locale.parse(tag.replace("-", "_"))
    except (UnknownLocaleError, ValueError):
        return Locale.parse(_FALLBACK)


@lru_cache(maxsize=256)
def style_of(currency: str, locale: str) -> Style:
    """Read the marks of a currency off a sample that Babel has written.

    Source: Unicode CLDR through Babel; the digits are those of ISO 4217, as stored. A symbol that ends in a letter
    is kept apart from the figure by a space that does not break, as CLDR asks.
    """
    sample = format_currency(_SAMPLE, currency, locale=locale_of(locale), currency_digits=False)
    prefix, figure, suffix = re.fullmatch(r"(\D*)(\d.*\d)(\D*)", sample, re.DOTALL).groups()  # type: ignore[union-attr]
    *wholes, _part = re.split(r"\D+", figure)
    marks = re.findall(r"\D+", figure)
    return Style(
        prefix=prefix + NO_BREAK if prefix[-1:].isalpha() else prefix,
        suffix=suffix,
        group=marks[0].replace("\u202f", NO_BREAK) if len(marks) > 1 else "",
        decimal=marks[-1],
        first_group=len(wholes[-1]),
        next_groups=len(wholes[-2]) if len(wholes) > 2 else len(wholes[-1]),
        digits=iso_digits(currency),
    )


def _grouped(whole: int, style: Style) -> str:
    if style.first_group == style.next_groups == 3:
        return f"{whole:,}".replace(",", style.group)
    text = str(whole)
    parts: list[str] = []
    size = style.first_group
    while len(text) > size:
        text, parts = text[:-size], [text[-size:], *parts]
        size = style.next_groups
    return style.group.join([text, *parts])


def _unsigned(minor: int, style: Style, brief: bool) -> str:
    whole, part = divmod(abs(minor), 10**style.digits)
    figure = _grouped(whole, style)
    if style.digits and (part or not brief):
        figure = f"{figure}{style.decimal}{part:0{style.digits}d}"
    return f"{style.prefix}{figure}{style.suffix}"


def money(minor: int, priced: Priced, *, brief: bool = False, sign: bool = False) -> str:
    """Write an amount.

    Args:
        minor: [minor units of the project's currency], any sign.
        priced: the project, for its currency and locale.
        brief: leave the cents out where there are none; for sentences and headline figures, never in a column.
        sign: put a plus before what is above zero, too.

    >>> from types import SimpleNamespace
    >>> britain = SimpleNamespace(currency="GBP", locale="en-GB")
    >>> money(1185800, britain), money(-1185800, britain, brief=True), money(190050, britain, brief=True, sign=True)
    ('£11,858.00', '−£11,858', '+£1,900.50')
    """
    text = _unsigned(minor, style_of(priced.currency, priced.locale), brief)
    if minor < 0:
        return MINUS + text
    return f"+{text}" if sign and minor else text


def symbol(priced: Priced) -> str:
    """The currency's sign or letters alone, to stand beside an entry field."""
    style = style_of(priced.currency, priced.locale)
    return (style.prefix + style.suffix).strip().strip(NO_BREAK)


#: yardstick -> (words for above, for below, for level); each sentence part is translated as a whole.
def against(yardstick: str) -> tuple[str, str, str]:
    """The words of a yardstick: over, under, level. The yardstick is always named beside the figure.

    Args:
        yardstick: "budget", "first_budget", "original" or "originals" (the quotes of several lines).
    """
    words = {
        "budget": (_("over budget"), _("under budget"), _("on budget")),
        "first_budget": (_("over the first budget"), _("under the first budget"), _("on the first budget")),
        "original": (
            _("extra against the original quote"),
            _("saved against the original quote"),
            _("as the original quote"),
        ),
        "originals": (
            _("extra against the original quotes"),
            _("saved against the original quotes"),
            _("as the original quotes"),
        ),
    }
    return words[yardstick]


def sense(minor: int) -> str:
    """What a signed difference means: "over", "saved" or "level"."""
    return "over" if minor > 0 else "saved" if minor < 0 else "level"


def difference(minor: int, priced: Priced, yardstick: str, *, brief: bool = True) -> str:
    """Write a signed difference in words, with its yardstick.

    Args:
        minor: likely final less what it is compared with [minor units]; above zero is over.

    >>> from types import SimpleNamespace
    >>> britain = SimpleNamespace(currency="GBP", locale="en-GB")
    >>> difference(-1250000, britain, "original"), difference(0, britain, "budget")
    ('£12,500 saved against the original quote', 'on budget')
    """
    over, under, level = against(yardstick)
    if minor == 0:
        return level
    return f"{money(abs(minor), priced, brief=brief)} {over if minor > 0 else under}"


@lru_cache(maxsize=8192)
def day(on: date, locale: str, *, short: bool = False) -> str:
    """Write a date with its weekday, or short without weekday and year.

    Source: Unicode CLDR through Babel; in English the comma after the weekday is dropped (our rule).

    >>> day(date(2027, 5, 28), "en-GB"), day(date(2027, 5, 28), "en-GB", short=True)
    ('Fri 28 May 2027', '28 May')
    """
    found = locale_of(locale)
    if isinstance(on, datetime):
        on = on.date()
    text = format_skeleton("MMMd" if short else "yMMMEd", on, locale=found)
    if found.language == "en":
        weekday, comma, rest = text.partition(", ")
        text = f"{weekday} {rest}" if comma and not short else text
    return text.replace("\u202f", NO_BREAK)


def days(number: int) -> str:
    """Write a number of calendar days: "1 day", "17 days"."""
    return ngettext("%(number)d day", "%(number)d days", number) % {"number": number}


def working_days(number: int) -> str:
    """Write a number of working days: "12 working days"."""
    return ngettext("%(number)d working day", "%(number)d working days", number) % {"number": number}


def days_left(number: int) -> str:
    """Write how far off a date is: "3 days left", "today", "2 days ago".

    Args:
        number: days from the project's date to the date; below zero is past.
    """
    if number == 0:
        return _("today")
    if number < 0:
        return ngettext("%(number)d day ago", "%(number)d days ago", -number) % {"number": -number}
    return ngettext("%(number)d day left", "%(number)d days left", number) % {"number": number}


def percent(fraction: Decimal | int, locale: str) -> str:
    """Write a share such as 0.125 as a percentage, exactly as given and without trailing zeros.

    >>> percent(Decimal("0.125"), "en-GB"), percent(Decimal("0.050"), "de-DE"), percent(Decimal("-0.2"), "en-GB")
    ('12.5%', '5\\xa0%', '−20%')
    """
    found = locale_of(locale)
    pattern = str(found.percent_formats[None].pattern).partition(";")[0]
    tail = pattern[len(pattern.rstrip("%\u00a0 \u202f")) :].replace("\u202f", NO_BREAK)
    return f"{number(Decimal(fraction) * 100, locale)}{tail}"


def number(value: Decimal | int, locale: str) -> str:
    """Write a plain number with the locale's marks, exactly as given and without trailing zeros.

    >>> number(Decimal("1234.50"), "en-GB"), number(Decimal("-0.86"), "de-DE")
    ('1,234.5', '−0,86')
    """
    text = format_decimal(Decimal(value), locale=locale_of(locale), decimal_quantization=False)
    return text.replace("-", MINUS).replace("\u202f", NO_BREAK)
