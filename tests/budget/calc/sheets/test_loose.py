"""Amounts as people write them: a worked table, whatever a generator writes, and two independent readers.

The table's forms are those of the trade notes on spreadsheets (common practice, no source) and of the messy sheet of
the demo. The independent readers are Babel, which writes figures as the Unicode CLDR says, and a brute-force reader.
"""

import re
from decimal import Decimal
from typing import Any

import pytest
from babel.numbers import format_decimal
from hypothesis import given
from hypothesis import strategies as st

from budget.calc.sheets import cells, loose
from budget.calc.sheets.loose import Doubt, Empty, Figure, Ways
from tests import worked_tables

BRITISH = Ways("GBP", ".", "GBP", frozenset({"GBP", "EUR"}))
GERMAN = Ways("EUR", ",", "EUR", frozenset({"EUR"}))

READ = worked_tables.table("messy-amounts.md", "Read without asking")
ASKED = worked_tables.table("messy-amounts.md", "Asked, with the readings to choose from")


@pytest.mark.parametrize("row", READ, ids=lambda row: row["written"])
def test_the_worked_table(row: dict[str, str]):
    found = loose.read(row["written"], BRITISH)
    assert isinstance(found, Figure)
    assert (found.minor, found.currency) == (worked_tables.minor(row["amount"]), row["currency"])
    assert (", ".join(found.how), found.note) == (row["way of writing"], row["note kept"])


@pytest.mark.parametrize("row", ASKED, ids=lambda row: row["written"])
def test_what_can_be_meant_in_two_ways_is_a_doubt(row: dict[str, str]):
    found = loose.read(row["written"], BRITISH)
    assert isinstance(found, Doubt) and found.kind == row["in doubt is"]
    assert found.minors == tuple(map(worked_tables.minor, filter(None, row["readings"].split(", "))))


@pytest.mark.parametrize(
    ("cell", "kind"), [(float("nan"), "sheet error"), (float("inf"), "sheet error"), (1e15, "too large")]
)
def test_a_number_that_is_none_is_a_doubt(cell: float, kind: str):
    assert loose.read(cell, BRITISH).kind == kind


def test_a_space_that_does_not_break_parts_thousands_too():
    assert loose.read("46\u00a0800", BRITISH) == Figure(4680000, "GBP", ("space",))


@pytest.mark.parametrize("text", ["-", "\u2013", "\u2014", "n/a", "nil", "- -", " - "])
def test_a_dash_is_empty_and_not_zero(text: str):
    assert loose.read(text, BRITISH).how == "dash"


@pytest.mark.parametrize("text", ["TBC", "POA", "incl", "by owner", "v7", "see mins", "?"])
def test_a_word_is_no_amount_and_is_kept(text: str):
    assert loose.read(text, BRITISH) == Empty("word", text)


def test_a_blank_cell_says_nothing():
    assert loose.read("", BRITISH) == loose.read("  \u00a0 ", BRITISH) == Empty("blank")


def test_tax_is_told_apart():
    taxes = [loose.read(text, BRITISH).tax for text in ("5+VAT", "5 plus 20% VAT", "5 inc VAT", "5 gross", "5")]
    assert taxes == ["net", "net", "gross", "gross", ""]


def test_a_number_of_a_formula_is_rounded_and_told():
    assert loose.read(100 / 3, BRITISH) == Figure(3333, "GBP", ("rounded",))
    assert loose.read(0.1 + 0.2, BRITISH) == Figure(30, "GBP")


def test_a_dollar_is_the_projects_own_or_the_one_with_a_rate():
    canada = Ways("CAD", ".", "CAD", frozenset({"CAD", "USD"}))
    rated = Ways("GBP", ".", "GBP", frozenset({"GBP", "AUD"}))
    assert [loose.read("$5", ways).currency for ways in (canada, rated, BRITISH)] == ["CAD", "AUD", "USD"]


@pytest.mark.parametrize(
    ("texts", "told"),
    [
        (["13,900", "18.9k", "£14,500.00", "€158.400,00"], {"."}),
        (["1.234,56", "900"], {","}),
        (["12,50", "900,5"], {","}),
        (["13,900", "18,200"], set()),
        (["1,234.50", "1.234,50"], {".", ","}),
        (["€12,50"], set()),
        ([5.5, 1250], set()),
    ],
)
def test_a_sheet_tells_what_parts_its_decimals(texts: list[Any], told: set[str]):
    assert loose.marks_told(texts, BRITISH) == told


# --- A generator of messy forms is read back to the same minor units --------------------------------------------------

NOTES = ["", " excl tipping", " net", ", see mins", " (timber)", " ex works", " as discussed"]
SIGNS = {"GBP": ["", "£", "£ ", "GBP ", "GBP"], "EUR": ["€", "€ ", "EUR ", "EUR"]}


@st.composite
def written(draw: Any) -> tuple[str, int, str]:
    """An amount below a thousand million, written in one of the messy forms; never one that is truly ambiguous."""
    currency = draw(st.sampled_from(sorted(SIGNS)))
    minor = draw(st.integers(1, 10**11))
    whole, part = divmod(minor, 100)
    group = draw(st.sampled_from(["", ",", " ", "'", "\u00a0"]))
    figure = f"{whole:,}".replace(",", group)
    if part or draw(st.booleans()):
        figure += f".{part:02d}"
    if draw(st.booleans()):  # as it is done abroad; one mark alone would be ambiguous
        abroad = f"{whole:,}".replace(",", ".") + f",{part:02d}"
        figure = abroad if "." in abroad else figure
    figure = draw(st.sampled_from(SIGNS[currency])) + figure
    shape = draw(st.sampled_from(["{}", "{}", "({})", "-{}", "\u2212{}", "{}-", "{} CR", "{} -"]))
    note = draw(st.sampled_from(NOTES)) if shape == "{}" else ""
    return shape.format(figure) + note, minor if shape == "{}" else -minor, currency


@given(written())
def test_whatever_is_written_is_read_back(form: tuple[str, int, str]):
    text, minor, currency = form
    found = loose.read(text, BRITISH)
    assert isinstance(found, Figure) and (found.minor, found.currency) == (minor, currency), text


@given(st.integers(1, 10**7), st.sampled_from(["k", "K", " k", "k excl VAT"]))
def test_thousands_written_short_are_read_in_full(hundreds: int, suffix: str):
    found = loose.read(f"{Decimal(hundreds) / 10:f}{suffix}", BRITISH)
    assert isinstance(found, Figure) and found.minor == hundreds * 100 * 100


@given(st.text(alphabet="0123456789.,'()-+ £$€%kmVATxGBPEUR\u00a0\u2212", max_size=24))
def test_no_text_is_too_strange(text: str):
    assert isinstance(loose.read(text, BRITISH), Figure | Empty | Doubt)


@given(st.text(alphabet="0123456789.,", min_size=1, max_size=14))
def test_the_quick_way_reads_what_the_long_way_reads(text: str):
    for ways in (BRITISH, GERMAN):
        quick, long = loose._quick(text, ways), loose._written(text, ways)
        assert quick is None or quick == long


# --- Two independent readers --------------------------------------------------------------------------------------------


@given(
    st.integers(1, 10**12), st.sampled_from(["en_GB", "de_DE", "fr_FR", "de_CH", "es_ES", "pl_PL", "sv_SE", "it_IT"])
)
def test_babel_writes_and_it_is_read(minor: int, locale: str):
    """Source: number patterns and marks of the Unicode CLDR, through Babel."""
    text = format_decimal(Decimal(minor) / 100, format="#,##0.00", locale=locale)
    mark = "." if locale in ("en_GB", "de_CH") else ","
    found = loose.read(text, Ways("EUR", mark, "EUR"))
    assert isinstance(found, Figure) and found.minor == minor, (locale, text)


def brute(text: str) -> set[int]:
    """Every amount in pence that a bare figure may stand for, each mark tried for each purpose."""
    found = set()
    for decimal, group in ((".", ","), (",", "."), ("", ","), ("", ".")):
        whole, _mark, part = text.partition(decimal) if decimal else (text, "", "")
        if not re.fullmatch(rf"[0-9]+|[1-9][0-9]{{0,2}}(?:[{group}][0-9]{{3}})+", whole) or (
            part and not part.isdigit()
        ):
            continue
        if len(part.rstrip("0")) <= 2 and not (_mark and not part):
            found.add(int(whole.replace(group, "")) * 100 + int(part.rstrip("0").ljust(2, "0") or 0))
    return found


@given(st.from_regex(r"[1-9][0-9]{0,4}(?:[.,][0-9]{1,4}){0,3}", fullmatch=True))
def test_what_is_read_without_asking_is_one_of_the_readings_and_the_one_of_the_sheets_mark(text: str):
    found, readings = loose.read(text, BRITISH), brute(text)
    if isinstance(found, Figure):
        assert found.minor in readings
        tidy = cells.amount_reader("GBP", ".")(text)
        assert not isinstance(tidy, int) or tidy == found.minor
    elif not readings:
        assert found.minors == ()
