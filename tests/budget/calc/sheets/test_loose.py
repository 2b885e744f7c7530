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

BRITISH = Ways("GBP", ".", "GBP", frozenset({"GBP", "EUR"}))
GERMAN = Ways("EUR", ",", "EUR", frozenset({"EUR"}))

# (text, minor, currency, how, note)
WORKED = [
    ("£14,500.00", 1450000, "GBP", ("currency",), ""),
    ("£ 12,400.00", 1240000, "GBP", ("currency",), ""),
    ("£13900", 1390000, "GBP", ("currency",), ""),
    ("13,900", 1390000, "GBP", (), ""),
    ("22300", 2230000, "GBP", (), ""),
    ("20850 excl tipping", 2085000, "GBP", (), "excl tipping"),
    ("18.9k", 1890000, "GBP", ("thousands",), ""),
    ("18.9 K", 1890000, "GBP", ("thousands",), ""),
    ("1,500k", 150000000, "GBP", ("thousands",), ""),
    ("1.5mio", 150000000, "GBP", ("millions",), ""),
    ("57,200+VAT", 5720000, "GBP", (), "+VAT: net"),
    ("18,200 + 20% VAT", 1820000, "GBP", (), "+ 20% VAT: net"),
    ("18,200 ex VAT", 1820000, "GBP", (), "ex VAT: net"),
    ("18,000 incl VAT", 1800000, "GBP", (), "incl VAT"),
    ("46 800", 4680000, "GBP", ("space",), ""),
    ("46\u00a0800", 4680000, "GBP", ("space",), ""),
    ("12 400,50", 1240050, "GBP", ("space",), ""),
    ("1'234'567.50", 123456750, "GBP", ("apostrophe",), ""),
    ("1.234.567", 123456700, "GBP", (), ""),
    ("(600)", -60000, "GBP", ("brackets",), ""),
    ("(£600)", -60000, "GBP", ("currency", "brackets"), ""),
    ("$(2,500.00)", -250000, "USD", ("currency", "brackets"), ""),
    ("600-", -60000, "GBP", ("trailing minus",), ""),
    ("-600", -60000, "GBP", ("minus",), ""),
    ("\u2212600", -60000, "GBP", ("minus",), ""),
    ("\u2013 600", -60000, "GBP", ("minus",), ""),
    ("-£5", -500, "GBP", ("currency", "minus"), ""),
    ("£-5", -500, "GBP", ("currency", "minus"), ""),
    ("600 CR", -60000, "GBP", ("credit",), ""),
    ("12.-", 1200, "GBP", (), ""),
    ("600 - see mins", 60000, "GBP", (), "see mins"),
    ("+5,000", 500000, "GBP", (), ""),
    ("€158.400,00", 15840000, "EUR", ("marks of its own", "currency"), ""),
    ("EUR 104,500", 10450000, "EUR", ("currency",), ""),
    ("EUR104,500", 10450000, "EUR", ("currency",), ""),
    ("104,500 EUR", 10450000, "EUR", ("currency",), ""),
    ("18,000 (EUR)", 1800000, "EUR", ("currency",), ""),
    ("$118,000", 11800000, "USD", ("currency",), ""),
    ("c. 18,000", 1800000, "GBP", ("about",), "c."),
    ("~18k", 1800000, "GBP", ("thousands", "about"), "~"),
    ("1.234,5", 123450, "GBP", ("marks of its own",), ""),
    ("0.500", 50, "GBP", (), ""),
    ("0", 0, "GBP", (), ""),
]


@pytest.mark.parametrize(("text", "minor", "currency", "how", "note"), WORKED)
def test_the_worked_table(text: str, minor: int, currency: str, how: tuple[str, ...], note: str):
    found = loose.read(text, BRITISH)
    assert isinstance(found, Figure)
    assert (found.minor, found.currency, found.how, found.note) == (minor, currency, how, note)


@pytest.mark.parametrize(
    ("text", "kind", "minors"),
    [
        ("1.234", "two ways", (123400,)),
        ("€1.500", "two ways", (150000,)),
        ("12,50", "other mark", (1250,)),
        ("1,23,456", "grouping", ()),
        ("18-20k", "several figures", (1800, 2000000)),
        ("57,200 (2 bays)", "several figures", (5720000, 200)),
        ("20850 2 skips", "several figures", (2085000, 200)),
        ("credit - 600", "sign", (60000, -60000)),
        ("-(600)", "sign", (60000, -60000)),
        ("45/day", "rate", (4500,)),
        ("500 m2", "rate", (50000,)),
        ("12m", "millions or metres", (1200000000, 1200)),
        ("¥500", "which currency", ()),
        ("£5 EUR", "which currency", ()),
        ("1,234.567", "decimals or too large", ()),
        ("999999999999999", "decimals or too large", ()),
        ("10%", "percent", ()),
        ("Contingency 10 %", "percent", ()),
        ("2027-01-29", "date", ()),
        ("29/01/27", "date", ()),
        ("#REF!", "sheet error", ()),
        ("#DIV/0!", "sheet error", ()),
        (float("nan"), "sheet error", ()),
        (float("inf"), "sheet error", ()),
        (1e15, "too large", ()),
    ],
)
def test_what_can_be_meant_in_two_ways_is_a_doubt(text: Any, kind: str, minors: tuple[int, ...]):
    found = loose.read(text, BRITISH)
    assert isinstance(found, Doubt) and (found.kind, found.minors) == (kind, minors)


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
