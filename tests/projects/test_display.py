"""Money, dates and shares as they stand on a page, checked against Babel (Unicode CLDR) and by hand."""

from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from babel.numbers import format_currency, format_percent
from django.template import Context, Template
from django.utils import translation
from hypothesis import given
from hypothesis import strategies as st

from projects import display
from units.money import CURRENCIES

LOCALES = ("en-GB", "en-US", "de-DE", "fr-FR", "en-IN", "sv-SE", "de-CH", "ja-JP")
AMOUNTS = st.integers(min_value=-(10**17), max_value=10**17)


@dataclass(frozen=True)
class Build:
    currency: str = "GBP"
    locale: str = "en-GB"


@pytest.mark.parametrize(
    ("minor", "build", "text"),
    [
        (1185800, Build(), "£11,858.00"),
        (-1250000, Build(), "−£12,500.00"),
        (5, Build("USD", "en-US"), "$0.05"),
        (123456789, Build("EUR", "de-DE"), "1.234.567,89\u00a0€"),
        (1234567, Build("JPY", "en-GB"), "JP¥1,234,567"),
        (1234567, Build("KWD", "en-GB"), "KWD\u00a01,234.567"),
        (123456789, Build("INR", "en-IN"), "₹12,34,567.89"),
    ],
)
def test_amounts_by_hand(minor: int, build: Build, text: str):
    """Source: common practice of each country, no single source."""
    assert display.money(minor, build) == text


@given(minor=AMOUNTS, currency=st.sampled_from(sorted(CURRENCIES)), locale=st.sampled_from(LOCALES))
def test_amounts_are_written_as_babel_writes_them(minor: int, currency: str, locale: str):
    """Oracle: babel.numbers.format_currency, with the digits of ISO 4217 and the spaces made alike."""
    digits = CURRENCIES[currency]
    amount = Decimal(abs(minor)).scaleb(-digits)
    found = display.locale_of(locale)
    pattern = found.currency_formats["standard"].pattern.partition(";")[0]
    pattern = pattern.replace(".00", "." + "0" * digits if digits else "")
    oracle = format_currency(amount, currency, pattern, locale=found, currency_digits=False)
    written = display.money(minor, Build(currency, locale)).removeprefix(display.MINUS)
    assert _bare(written) == _bare(oracle)


def _bare(text: str) -> str:
    return "".join(text.split())


@given(minor=AMOUNTS)
def test_no_digit_is_lost(minor: int):
    text = display.money(minor, Build())
    assert int(text.replace(display.MINUS, "-").replace("£", "").replace(",", "").replace(".", "")) == minor


@given(minor=AMOUNTS)
def test_brief_leaves_out_only_cents_that_are_none(minor: int):
    brief, full = (display.money(minor, Build(), brief=brief) for brief in (True, False))
    assert full == (brief + ".00" if minor % 100 == 0 else brief)


def test_sign_is_plus_minus_or_none():
    texts = [display.money(minor, Build(), sign=True) for minor in (190000, -190000, 0)]
    assert texts == ["+£1,900.00", "−£1,900.00", "£0.00"]


@pytest.mark.parametrize(
    ("minor", "yardstick", "text"),
    [
        (190000, "budget", "£1,900 over budget"),
        (-90050, "first_budget", "£900.50 under the first budget"),
        (-1250000, "original", "£12,500 saved against the original quote"),
        (100, "originals", "£1 extra against the original quotes"),
        (0, "budget", "on budget"),
    ],
)
def test_a_difference_names_its_yardstick(minor: int, yardstick: str, text: str):
    assert display.difference(minor, Build(), yardstick) == text


def test_an_unknown_yardstick_is_no_yardstick():
    with pytest.raises(KeyError):
        display.difference(1, Build(), "feeling")


@pytest.mark.parametrize(
    ("locale", "text"),
    [
        ("en-GB", "Fri 28 May 2027"),
        ("en-US", "Fri May 28, 2027"),
        ("de-DE", "Fr., 28. Mai 2027"),
        ("fr-FR", "ven. 28 mai 2027"),
    ],
)
def test_a_date_bears_its_weekday(locale: str, text: str):
    """Source: the house's own form for English; Unicode CLDR for the others."""
    assert display.day(date(2027, 5, 28), locale) == text


def test_an_instant_is_written_as_its_day():
    assert display.day(datetime(2027, 5, 28, 23, 59, tzinfo=UTC), "en-GB") == "Fri 28 May 2027"


def test_durations_have_a_singular():
    assert [display.days(n) for n in (1, 17)] == ["1 day", "17 days"]
    assert [display.working_days(n) for n in (1, 12)] == ["1 working day", "12 working days"]
    assert [display.days_left(n) for n in (3, 1, 0, -1, -2)] == [
        "3 days left",
        "1 day left",
        "today",
        "1 day ago",
        "2 days ago",
    ]


@given(fraction=st.decimals(min_value=-10, max_value=10, places=5, allow_nan=False), locale=st.sampled_from(LOCALES))
def test_a_share_is_written_as_babel_writes_it(fraction: Decimal, locale: str):
    """Oracle: babel.numbers.format_percent without rounding."""
    oracle = format_percent(fraction, locale=display.locale_of(locale), decimal_quantization=False)
    written = display.percent(fraction, locale).replace(display.MINUS, "-")
    assert _bare(written) == _bare(oracle).replace("\u2212", "-")


def test_an_unknown_locale_is_read_as_british():
    assert display.money(100, Build(locale="xx-NONE")) == "£1.00"
    assert display.day(date(2027, 5, 28), "!") == "Fri 28 May 2027"


def test_the_symbol_stands_alone():
    assert [display.symbol(Build(*pair)) for pair in (("GBP", "en-GB"), ("EUR", "de-DE"), ("CHF", "en-GB"))] == [
        "£",
        "€",
        "CHF",
    ]


def rendered(source: str, **context: object) -> str:
    with translation.override("en-gb"):
        return Template("{% load show parts %}" + source).render(Context(context))


@pytest.mark.parametrize(
    ("source", "text"),
    [
        ("{{ 1185800|money:build }}", "£11,858.00"),
        ("{{ none|money:build }}", "–"),
        ("{{ 1185800|money_brief:build }}", "£11,858"),
        ("{{ gap|size:build }}", "£12,500"),
        ("{{ gap|signed:build }} {{ gap|signed_brief:build }} {{ gap|sense }}", "−£12,500.00 −£12,500 saved"),
        ("{{ gap|against_budget:build }}", "£12,500 under budget"),
        ("{{ gap|against_first_budget:build }}", "£12,500 under the first budget"),
        ("{{ gap|against_original:build }}", "£12,500 saved against the original quote"),
        ("{{ gap|against_originals:build }}", "£12,500 saved against the original quotes"),
        ("{{ on|day }} {{ on|day_short }} {{ none|day }}", "Fri 28 May 2027 28 May –"),
        ("{{ 17|days }} {{ 12|working_days }} {{ 3|days_left }}", "17 days 12 working days 3 days left"),
        ("{{ share|percent }} {{ share|number }}", "12.5% 0.125"),
        ("{{ 'lead'|role_name }} {{ build|currency_symbol }}", "lead £"),
    ],
)
def test_filters_write_what_the_house_writes(source: str, text: str):
    facts = {"build": Build(), "gap": -1250000, "on": date(2027, 5, 28), "share": Decimal("0.125"), "none": None}
    assert rendered(source, **facts) == text


def test_a_filter_takes_the_door_for_its_project():
    class Door:
        project = Build("USD", "en-US")

    assert rendered("{{ 100|money:door }}", door=Door()) == "$1.00"
