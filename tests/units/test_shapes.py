import json
import re
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from units import money, shapes
from units.reading import Unreadable, parse

GBP = {"currency": "GBP"}
INCLUDED = shapes.Words(shapes.Amount(), {"included": "included", None: None}, 'a number, "included" or null')
NEVER = [
    True,
    [],
    {},
    "x",
    "",
    "1e3",
    "1,000",
    "٥",
    " 5",
    float("nan"),
    float("inf"),
    Decimal("NaN"),
    Decimal("-Infinity"),
]


@given(st.integers(-(10**17), 10**17), st.sampled_from(["GBP", "JPY", "KWD"]), st.booleans())
def test_an_amount_comes_through_exactly_as_number_and_as_text(minor, currency, as_text):
    text = money.as_text(minor, currency=currency)
    value = text if as_text else parse(text.encode())
    if -(10**15) <= Decimal(text) <= 10**15:
        assert shapes.Amount(signed=True).read(value, {"currency": currency}) == minor
    else:
        with pytest.raises(Unreadable):
            shapes.Amount(signed=True).read(value, {"currency": currency})


@pytest.mark.parametrize("value", [*NEVER, None], ids=repr)
def test_what_is_no_amount_is_refused(value):
    with pytest.raises(Unreadable, match="a number is required"):
        shapes.Amount().read(value, GBP)


@pytest.mark.parametrize(
    ("value", "said"),
    [
        ("1.234", "this has 3 decimals; GBP has 2"),
        (Decimal("1e-9999999999"), "this has 9999999999 decimals; GBP has 2"),
        (-1, "an amount of 0 or more is required"),
        (10**15 + 1, "at most 1000000000000000 is read, either way"),
        (Decimal("1e999999999"), "at most 1000000000000000 is read, either way"),
    ],
)
def test_an_amount_out_of_bounds_is_refused_with_the_bound(value, said):
    with pytest.raises(Unreadable, match=re.escape(said)):
        shapes.Amount().read(value, GBP)


def test_zeros_at_the_end_are_no_decimals():
    assert shapes.Amount().read("1.230000", GBP) == 123
    assert shapes.Amount().read(Decimal("0E-999999999"), GBP) == 0


def test_without_a_currency_two_decimals_are_read():
    assert shapes.Amount().read("1.23", {}) == 123
    with pytest.raises(Unreadable, match="2 are read where no currency is named"):
        shapes.Amount().read("1.234", {})


@pytest.mark.parametrize("value", [*NEVER, None, -1, "0.79"], ids=repr)
def test_what_is_no_number_within_bounds_is_refused(value):
    with pytest.raises(Unreadable, match="a number from 0 to 1 is required"):
        shapes.Number(Decimal(0), Decimal(1)).read(value, {})


def test_a_number_of_endless_decimals_is_refused():
    with pytest.raises(Unreadable, match="at most 20 decimals"):
        shapes.Number().read(Decimal("1e-21"), {})


def test_a_rate_may_be_text_and_is_never_zero():
    rate = shapes.Number(above=Decimal(0), or_text=True)
    assert rate.read("0.79", {}) == Decimal("0.79")
    with pytest.raises(Unreadable, match="a number above 0 is required"):
        rate.read(0, {})


@pytest.mark.parametrize("value", [*NEVER, None, -1, 11, Decimal("1.5"), Decimal("1e99")], ids=repr)
def test_what_is_no_whole_number_is_refused(value):
    with pytest.raises(Unreadable, match="a whole number from 0 to 10 is required"):
        shapes.Whole(0, 10).read(value, {})


@pytest.mark.parametrize(
    "value", [20261125, "2026-1-5", "20261125", "2026-W48-3", "2026-11-25T00:00", "", None, "٢٠٢٦-11-25"], ids=repr
)
def test_what_is_no_date_is_refused(value):
    with pytest.raises(Unreadable, match="a date such as 2026-11-25 is required"):
        shapes.Day().read(value, {})


def test_a_day_that_the_calendar_lacks_is_named():
    with pytest.raises(Unreadable, match="2026-02-30 is no day of the calendar"):
        shapes.Day().read("2026-02-30", {})


@given(st.dates())
def test_every_day_of_the_calendar_is_read(day):
    assert shapes.Day().read(day.isoformat(), {}) == day


def test_leap_days_are_days():
    assert shapes.Day().read("2028-02-29", {}) == date(2028, 2, 29)


@pytest.mark.parametrize(
    ("value", "read"), [("8.25%", "0.0825"), ("100%", "1"), (0, "0"), (Decimal("0.0"), "0")], ids=repr
)
def test_percentages_are_read_as_fractions(value, read):
    assert shapes.Percent().read(value, {}) == Decimal(read)


@pytest.mark.parametrize("value", [8.25, "8.25", "101%", "-1%", True, None, [], False], ids=repr)
def test_what_is_no_percentage_is_refused(value):
    with pytest.raises(Unreadable, match="a percentage from"):
        shapes.Percent().read(value, {})


def test_a_discount_is_an_amount_or_a_percentage():
    discount = shapes.AmountOrPercent()
    assert discount.read("5%", GBP) == (0, Decimal("0.05"))
    assert discount.read("250.00", GBP) == (25000, 0)
    with pytest.raises(Unreadable, match="an amount, or a percentage"):
        discount.read("five", GBP)


def test_words_stand_beside_amounts():
    assert [INCLUDED.read(value, GBP) for value in ("included", None, "1.50")] == ["included", None, 150]
    for wrong in ("Included", True, [], {}):
        with pytest.raises(Unreadable, match='a number, "included" or null is required'):
            INCLUDED.read(wrong, GBP)


@pytest.mark.parametrize("value", ["", "  ", 5, None, ["a"]], ids=repr)
def test_what_is_no_text_is_refused(value):
    with pytest.raises(Unreadable, match="a text is required"):
        shapes.Text().read(value, {})


def test_an_overlong_text_is_refused():
    with pytest.raises(Unreadable, match="at most 300 characters are read, and 301 are given"):
        shapes.Text().read("a" * 301, {})


@pytest.mark.parametrize("value", ["yes", 1, 0, None, "true"], ids=repr)
def test_only_true_and_false_are_flags(value):
    with pytest.raises(Unreadable, match="true or false is required"):
        shapes.Flag().read(value, {})


@pytest.mark.parametrize("value", ["Median", 1, None, ["median"]], ids=repr)
def test_only_the_words_of_a_choice_are_read(value):
    with pytest.raises(Unreadable, match='"median" or "highest" is required'):
        shapes.Choice(("median", "highest")).read(value, {})


def test_a_fraction_is_a_number_or_a_percentage():
    assert [shapes.Fraction1().read(value, {}) for value in (0, 1, "3%")] == [0, 1, Decimal("0.03")]
    for wrong in (3, -0.1, "0.03", True, None):
        with pytest.raises(Unreadable, match="a number from 0 to 1, or a percentage"):
            shapes.Fraction1().read(wrong, {})


def test_what_is_not_worked_out_yet_says_so():
    with pytest.raises(Unreadable, match="give an amount"):
        shapes.NotYet("give an amount").read(5, {})


@pytest.mark.parametrize(
    "shape",
    [shapes.Text(), shapes.Choice(("a",)), shapes.Flag(), shapes.Number(), shapes.Number(above=Decimal(0), or_text=True),
     shapes.Whole(0, 9),
     shapes.Day(), shapes.Currency(), shapes.Amount(), shapes.Amount(above_zero=True), shapes.Percent(), shapes.Fraction1(),
     shapes.AmountOrPercent(), INCLUDED, shapes.NotYet("later")],
    ids=lambda shape: type(shape).__name__,
)  # fmt: skip
def test_every_shape_has_a_schema_that_is_plain_json(shape):
    assert json.loads(json.dumps(shape.schema())) == shape.schema()
