"""Cells read one by one and by column. Amounts are held against an independent reading through `Decimal`."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from budget.calc.sheets import cells
from budget.calc.sheets.grid import Fault
from units.amounts import LARGEST_MINOR, NotAnAmount, parse_amount

EARLY, LATE = date(1990, 1, 1), date(2150, 12, 31)
AMOUNT = cells.amount_reader("GBP", ".")
MINOR = st.integers(0, LARGEST_MINOR)


def a_date(order: cells.DateOrder = "", **more: bool) -> cells.Reader:
    return cells.date_reader(order, earliest=EARLY, latest=LATE, **more)


# Ways of writing an amount: the list of ways that owner-builders' sheets hold is from common practice, no source.
READ = [
    ("£ 12,400.00", 1240000), ("46 800", 4680000), ("12400", 1240000), ("0", 0), ("1,234,567.8", 123456780), (12400, 1240000),
    (12400.5, 1240050), (0.1 + 0.2, 30), (19.99, 1999), ("", None), ("-", None), ("\u2013", None), ("n/a", None),
]  # fmt: skip
NOT_READ = [
    ("18.9k", "shortened"), ("(600)", "negative"), ("600-", "negative"), (-3, "negative"), ("TBC", "not a number"),
    ("10%", "percent"), ("57,200+VAT", "not a number"), ("1.234", "two ways"), ("12,34", "grouping"), ("€15.00", "other currency"),
    (float("nan"), "not a number"), (float("inf"), "not a number"), (float("-inf"), "not a number"), (1e30, "too large"),
    ("99999999999999", "too large"), ("12.345", "two ways"), ("1212.345", "decimals"), (1234.5678, "decimals"), ("#REF!", "not a number"),
    ("=1+1", "not a number"), ("0,123", "grouping"),
]  # fmt: skip


@pytest.mark.parametrize(("cell", "minor"), READ)
def test_an_amount_is_read(cell: cells.Cell, minor: int | None):
    assert AMOUNT(cell) == minor


@pytest.mark.parametrize(("cell", "kind"), NOT_READ)
def test_what_is_no_amount_says_why(cell: cells.Cell, kind: str):
    found = AMOUNT(cell)
    assert isinstance(found, Fault) and found.kind == kind


@given(MINOR)
def test_every_amount_written_plainly_is_read_back(minor: int):
    text = f"{minor // 100}.{minor % 100:02d}"
    assert AMOUNT(text) == AMOUNT(f"{minor // 100:,}.{minor % 100:02d}") == minor


@given(st.integers(0, 10**13))
def test_every_number_of_a_sheet_is_the_amount_it_shows(minor: int):
    number = float(Decimal(minor) / 100)
    assert AMOUNT(number) == minor and cells.numbers([number], "GBP") == [minor]


@given(st.floats(allow_nan=True, allow_infinity=True))
def test_a_column_read_at_once_is_read_as_its_cells_are(number: float):
    at_once = cells.numbers([number, 12.5], "GBP")
    assert at_once is None or at_once == [AMOUNT(number), 1250]


@given(st.text("0123456789.,£ -()", max_size=14))
def test_the_quick_way_reads_what_the_careful_way_reads(text: str):
    quick = AMOUNT(text)
    try:
        careful: int | None = parse_amount(text.strip(), currency="GBP")
    except NotAnAmount:
        careful = None
    if isinstance(quick, int):
        assert careful == quick
    elif careful is not None and careful >= 0:
        assert isinstance(quick, Fault) or text.strip() in cells.NOTHING


@given(st.sampled_from(["JPY", "KWD", "EUR"]), st.integers(0, 10**12))
def test_other_currencies_keep_their_digits(currency: str, minor: int):
    from units import money

    assert cells.amount_reader(currency, ".")(money.as_text(minor, currency=currency)) in (minor, Fault("two ways"))


def test_a_comma_parts_decimals_where_it_was_chosen():
    assert cells.amount_reader("EUR", ",")("158.400,50") == 15840050


# --- Dates ----------------------------------------------------------------------------------------------------------


@given(st.dates(EARLY, LATE))
def test_every_date_is_read_in_every_way_of_writing_it(on: date):
    day_first, month_first = a_date("dmy"), a_date("mdy")
    assert a_date()(on.isoformat()) == on
    assert day_first(f"{on.day}/{on.month}/{on.year}") == on == month_first(f"{on.month}/{on.day}/{on.year}")
    assert a_date()(f"{on.day}.{on.month}.{on.year}") == on
    assert a_date()(on.strftime("%d %B %Y")) == on == a_date()(on.strftime("%b %d, %Y"))


@given(st.dates(date(1955, 1, 1), date(2110, 1, 1)))
def test_a_number_of_days_is_the_date_the_sheet_shows(on: date):
    """ISO/IEC 29500-1, 18.17.4.1: day 1 is 1 January 1900, counted with the 29 February that year did not have."""
    number = (on - date(1899, 12, 30)).days
    reader = cells.date_reader("", earliest=date.min, latest=date.max)
    assert reader(number) == reader(float(number)) == reader(str(number)) == on
    shifted = cells.date_reader("", earliest=date.min, latest=date.max, from_1904=True)
    assert shifted(number) == on + timedelta(days=1462)


@pytest.mark.parametrize(
    ("cell", "kind"),
    [("3/4/2027", "day or month"), ("soon", "no date"), ("31/2/2027", "no date"), ("1889-01-01", "out of range"), (12.0, "no date"),
     ("32/13/2027", "no date"), ("2027-02-30", "no date"), (float("nan"), "no date"), (float("inf"), "no date"), (5e9, "no date")],
)  # fmt: skip
def test_what_is_no_date_says_why(cell: cells.Cell, kind: str):
    order: cells.DateOrder = "" if kind == "day or month" else "dmy"
    found = a_date(order)(cell)
    assert isinstance(found, Fault) and found.kind == kind


def test_the_same_number_twice_is_one_date_in_any_order():
    assert a_date()("4/4/2027") == date(2027, 4, 4)


@pytest.mark.parametrize(
    ("column", "told"),
    [({"30/5/2026", "3/4/2026"}, "dmy"), ({"5/30/2026", "3/4/2026"}, "mdy"), ({"3/4/2026"}, ""), ({"30/5/2026", "5/30/2026"}, "")],
)  # fmt: skip
def test_a_number_above_twelve_tells_the_order(column: set[cells.Cell], told: str):
    assert cells.order_told(column)[0] == told


# --- The rest -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "weeks", "days"),
    [
        ("12 weeks", False, 84),
        ("84", False, 84),
        ("12", True, 84),
        ("84 days", True, 84),
        ("2 wk", False, 14),
        ("-", False, None),
    ],
)
def test_a_duration_is_read(text: str, weeks: bool, days: int | None):
    assert cells.days_reader(weeks)(text) == days


@pytest.mark.parametrize(("text", "kind"), [("2 months", "no duration"), ("9999 weeks", "too large")])
def test_what_is_no_duration_says_why(text: str, kind: str):
    assert cells.days_reader(False)(text).kind == kind


@given(st.lists(st.text(max_size=8), max_size=5))
def test_texts_read_at_once_are_read_as_their_cells_are(column: list[str]):
    at_once = cells.texts(column, 6)
    assert at_once is None or at_once == [cells.text_reader(6)(text) for text in column]


def test_one_reader_is_asked_once_for_each_different_cell():
    asked: list[cells.Cell] = []
    memo = cells.Memo(lambda cell: asked.append(cell) or Fault("x"))
    assert [memo[cell] for cell in ("a", "b", "a")] == [Fault("x")] * 3
    assert asked == ["a", "b"] and memo.faulty
