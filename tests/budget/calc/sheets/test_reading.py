"""Whole sheets, given as rows of plain cells: what is read, and which trouble is named where."""

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from budget.calc.sheets import columns, lines, quotes
from budget.calc.sheets.grid import Facts, Grid
from budget.calc.sheets.preview import Choices, Known, Preview

KNOWN = Known(
    currency="GBP", mark=".", today=date(2027, 1, 29), earliest=date(1990, 1, 1), latest=date(2150, 12, 31),
    trades={"t01": "T01", "groundworks": "T01", "t02": "T02", "concrete": "T02"}, codes=frozenset({"L0101", "L0102"}),
    rates=frozenset({"GBP", "EUR"}), logged=frozenset({("old", "Q1", date(2027, 1, 4), "L0101")}),
)  # fmt: skip
PLAIN = Facts()
LINE_HEAD = ["Trade", "Code", "Description", "Budget"]
QUOTE_HEAD = ["Vendor", "Line", "Amount", "Date", "Reference"]


def read_lines(*rows: list[Any], head: list[str] | None = None, facts: Facts = PLAIN, **choices: Any) -> Preview:
    return lines.read(Grid([head or LINE_HEAD, *rows], facts), KNOWN, Choices(**choices))


def read_quotes(*rows: list[Any], head: list[str] | None = None, facts: Facts = PLAIN, **choices: Any) -> Preview:
    return quotes.read(Grid([head or QUOTE_HEAD, *rows], facts), KNOWN, Choices(**choices))


def told(seen: Preview) -> list[tuple[str, int, int]]:
    return [(trouble.kind, trouble.row, trouble.column) for trouble in seen.troubles]


def test_a_plain_sheet_of_lines_is_read():
    seen = read_lines(["T01", "A1", "Strip out", 14500.0], ["Concrete", "A2", "Slab", "£58,700.00"])
    assert (seen.read["trade"], seen.read["code"], seen.read["budget"]) == (
        ["T01", "T02"],
        ["A1", "A2"],
        [1450000, 5870000],
    )
    assert seen.ready and not seen.troubles


def test_a_line_without_a_code_gets_one_from_its_trade():
    seen = read_lines(
        ["T01", "", "Strip out", 1], ["T02", "", "Slab", 1], ["T01", "", "Dig", 1], ["T01", "T01-01", "Cart", 1]
    )
    assert seen.read["code"] == ["T01-02", "T02-01", "T01-03", "T01-01"] and seen.made_up == 3


LINE_TROUBLES = [
    (["T09", "A1", "Slab", 1], "unknown trade, one is near", 2, 1),
    (["Zzzz", "A1", "Slab", 1], "unknown trade", 2, 1),
    (["", "A1", "Slab", 1], "no trade", 2, 1),
    (["T01", "L0101", "Slab", 1], "code taken", 2, 2),
    (["T01", "A1", "", 1], "no description", 2, 3),
    (["T01", "A1", "x" * 201, 1], "too long", 2, 3),
    (["T01", "A" * 21, "Slab", 1], "too long", 2, 2),
    (["T01", "A1", "Slab", ""], "no amount", 2, 4),
    (["T01", "A1", "Slab", "TBC"], "not a number", 2, 4),
    (["T01", "A1", "Slab", "1.234"], "two ways", 2, 4),
    (["T01", "A1", "Slab", "€12"], "other currency", 2, 4),
    (["T01", "A1", "Slab", -1], "negative", 2, 4),
]


@pytest.mark.parametrize(("row", "kind", "at_row", "at_column"), LINE_TROUBLES)
def test_a_trouble_of_a_line_is_named_where_it_is(row: list[Any], kind: str, at_row: int, at_column: int):
    seen = read_lines(row)
    assert told(seen) == [(kind, at_row, at_column)] and not seen.ready


@pytest.mark.parametrize(("row", "kind", "at_row", "_column"), LINE_TROUBLES)
def test_a_row_that_is_left_out_troubles_nobody(row: list[Any], kind: str, at_row: int, _column: int):
    seen = read_lines(row, ["T01", "B1", "Dig", 5], out=frozenset({2}))
    assert seen.ready and seen.read["code"] == ["B1"] and seen.out == {2: "chosen"}


def test_a_code_that_stands_twice_names_the_first():
    seen = read_lines(["T01", "A1", "Slab", 1], ["T01", "A1", "Dig", 2])
    assert [(t.kind, t.row, t.about) for t in seen.troubles] == [("code twice", 3, "2")]


def test_a_line_like_another_is_asked_about_and_not_refused():
    seen = read_lines(["T01", "A1", "Engineer", 1], ["T01", "A2", "Engineer", 1])
    assert told(seen) == [("like another", 3, 0)] and seen.ready


def test_titles_above_the_heading_and_blank_rows_are_left_out():
    grid = Grid(
        [
            ["BUDGET v7", "", "", ""],
            ["", "", "", "printed"],
            LINE_HEAD,
            ["T01", "A1", "Dig", 1],
            [""] * 4,
            ["T01", "A2", "Cart", 2],
        ]
    )
    seen = lines.read(grid, KNOWN, Choices())
    assert seen.heading == 2 and seen.places == [3, 5] and told(seen) == [("rows above the heading", 0, 0)]


def test_totals_are_left_out_and_held_against_the_rows_above():
    seen = read_lines(
        ["T01", "A1", "Dig", 100], ["T01", "A2", "Cart", 50], ["", "", "Sub-total", 150], ["T02", "A3", "Slab", 30],
        ["TOTAL", "", "", 181],
    )  # fmt: skip
    assert seen.out == {4: "total", 6: "total"} and [total.holds for total in seen.totals] == [True, False]
    assert [(t.kind, t.row, t.given, t.about) for t in seen.troubles] == [
        ("total differs", 6, "181.00", "30.00")
    ] and seen.ready


def test_a_line_whose_work_is_called_total_and_has_a_code_stays():
    assert read_lines(["T01", "A1", "Total station hire", 5]).read["description"] == ["Total station hire"]


def test_trades_that_are_missing_are_added_only_when_it_is_chosen():
    rows = [["Glazing", "A1", "Panels", 5], ["glazing", "A2", "Seals", 6]]
    assert not read_lines(*rows).ready
    seen = read_lines(*rows, add_trades=True)
    assert seen.new_trades == {"T03": "Glazing"} and seen.read["trade"] == ["T03", "T03"]


def test_a_code_with_its_name_adds_the_trade_by_itself():
    seen = read_lines(
        ["T07", "Glazing", "A1", "Panels", 5], head=["Trade code", "Trade name", "Code", "Description", "Budget"]
    )
    assert seen.new_trades == {"T07": "Glazing"} and seen.ready


def test_a_code_that_is_another_trades_is_named():
    known = replace(KNOWN, trade_names={"T01": "Groundworks", "T02": "Concrete"})
    head = ["Trade code", "Trade name", "Code", "Description", "Budget"]
    rows = [["T01", "Glazing", "A1", "Panels", 5], ["T02", "CONCRETE", "A2", "Slab", 5], ["T02", "", "A3", "Plinth", 5]]
    seen = lines.read(Grid([head, *rows]), known, Choices())
    assert [(t.kind, t.row, t.column, t.about) for t in seen.troubles] == [("another trade", 2, 1, "T01 Groundworks")]


def test_a_merged_trade_counts_for_all_its_rows():
    merged = Facts(merged=((2, 1, 3, 1),))
    seen = read_lines(["T01", "A1", "Dig", 1], ["", "A2", "Cart", 2], ["", "A3", "Slab", 3], facts=merged)
    assert seen.read["trade"] == ["T01", "T01", None]


def test_a_trade_written_once_is_carried_down_when_it_is_chosen():
    assert read_lines(["T01", "A1", "Dig", 1], ["", "A2", "Cart", 2], fill_down=True).read["trade"] == ["T01", "T01"]


def test_other_merged_cells_hidden_cells_and_formulas_are_told():
    facts = Facts(
        merged=((2, 3, 2, 4),), hidden_rows=frozenset({2}), hidden_columns=frozenset({4}), formulas=((2, 4),), formula_count=3,
        notes=(("encoding", "UTF-16"),),
    )  # fmt: skip
    seen = read_lines(["T01", "A1", "Dig", 1], facts=facts)
    assert [kind for kind, _r, _c in told(seen)] == [
        "encoding",
        "formulas",
        "merged",
        "hidden row",
        "hidden column",
    ] and seen.ready


def test_a_heading_or_a_format_in_another_currency_is_named():
    assert (
        told(read_lines(["T01", "A1", "Dig", 1], head=["Trade", "Code", "Description", "Budget EUR"]))[0][0]
        == "heading in another currency"
    )
    seen = read_lines(["T01", "A1", "Dig", 1], facts=Facts(formats={(2, 4): "EUR"}))
    assert told(seen) == [("format in another currency", 2, 4)]


def test_a_sheet_without_headings_says_so():
    seen = lines.read(Grid([["a", 1.0], ["b", 2.0]]), KNOWN, Choices())
    assert {kind for kind, _r, _c in told(seen)} >= {"no heading", "no column"}


def test_columns_may_be_chosen():
    seen = lines.read(
        Grid([["x", "y", "z"], ["Dig", 5.0, "T01"]]),
        KNOWN,
        Choices(heading=0, columns={"description": 0, "budget": 1, "trade": 2}),
    )
    assert seen.ready and seen.read["budget"] == [500]


def test_a_comma_is_told_by_the_amounts():
    assert read_lines(["T01", "A1", "Dig", "1.234,50"], ["T01", "A2", "Cart", "7,25"]).read["budget"] == [123450, 725]


def test_choices_survive_being_kept():
    chosen = Choices(
        heading=2, columns={"trade": 0}, mark=",", date_order="dmy", out=frozenset({3, 9}), add_trades=True
    )
    assert Choices.from_plain(chosen.as_plain()) == chosen


# --- Quotes ---------------------------------------------------------------------------------------------------------


def test_rows_of_one_vendor_reference_and_date_are_one_quote():
    seen = read_quotes(
        ["Aridlow", "L0101", 5, "2027-01-04", "Q7"],
        ["ARIDLOW ", "l0102", 6, "2027-01-04", "Q7"],
        ["Aridlow", "L0101", 7, "2027-01-05", "Q7"],
    )
    assert seen.ready and seen.read["quote"] == [0, 0, 1] and seen.read["line"] == ["L0101", "L0102", "L0101"]


QUOTE_TROUBLES = [
    (["", "L0101", 5, "2027-01-04", ""], "no vendor", 1),
    (["v" * 161, "L0101", 5, "2027-01-04", ""], "too long", 1),
    (["A", "", 5, "2027-01-04", ""], "no line", 2),
    (["A", "L9", 5, "2027-01-04", ""], "unknown line", 2),
    (["A", "L0101", "", "2027-01-04", ""], "no amount", 3),
    (["A", "L0101", "€5", "2027-01-04", ""], "two currencies", 3),
    (["A", "L0101", 5, "", ""], "no date given", 4),
    (["A", "L0101", 5, "3/4/2026", ""], "day or month", 4),
    (["A", "L0101", 5, "2027-01-30", ""], "in the future", 4),
    (["A", "L0101", 5, "1989-12-31", ""], "out of range", 4),
    (["Old", "L0101", 5, "2027-01-04", "Q1"], "logged already", 2),
]


@pytest.mark.parametrize(("row", "kind", "column"), QUOTE_TROUBLES)
def test_a_trouble_of_a_quote_is_named_where_it_is(row: list[Any], kind: str, column: int):
    seen = read_quotes(row)
    assert told(seen) == [(kind, 2, column)] and not seen.ready


def test_the_order_of_day_and_month_is_asked_and_then_kept():
    seen = read_quotes(["A", "L0101", 5, "3/4/2026", ""], date_order="dmy")
    assert seen.ready and seen.read["quoted_on"] == [date(2026, 4, 3)]


def test_one_line_twice_in_a_quote_is_named():
    row = ["A", "L0101", 5, "2027-01-04", "Q7"]
    assert told(read_quotes(row, row)) == [("line twice", 3, 2)]


def test_rows_of_one_quote_have_to_agree():
    head = [*QUOTE_HEAD, "Valid until"]
    seen = read_quotes(
        ["A", "L0101", 5, "2027-01-04", "Q7", "2027-03-01"],
        ["A", "L0102", 5, "2027-01-04", "Q7", "2027-04-01"],
        head=head,
    )
    assert told(seen) == [("differs in one quote", 3, 6)]


def test_a_quote_that_runs_out_before_its_date_is_named():
    assert told(read_quotes(["A", "L0101", 5, "2027-01-04", "", "2027-01-03"], head=[*QUOTE_HEAD, "Valid until"])) == [
        ("runs out before", 2, 6)
    ]


@pytest.mark.parametrize(("code", "kind"), [("XXX", "unknown currency"), ("USD", "no rate")])
def test_a_currency_has_to_be_known_and_to_have_a_rate(code: str, kind: str):
    assert told(read_quotes(["A", "L0101", 5, "2027-01-04", "", code], head=[*QUOTE_HEAD, "Currency"])) == [
        (kind, 2, 6)
    ]


def test_each_row_is_read_in_its_own_currency():
    seen = read_quotes(
        ["A", "L0101", "€5", "2027-01-04", "", "EUR"],
        ["B", "L0101", "£6", "2027-01-04", "", ""],
        head=[*QUOTE_HEAD, "Currency"],
    )
    assert seen.ready and list(zip(seen.read["currency"], seen.read["amount"], strict=True)) == [
        ("EUR", 500),
        ("GBP", 600),
    ]


def test_lead_times_in_weeks_by_the_heading():
    seen = read_quotes(["A", "L0101", 5, "2027-01-04", "", 12.0], head=[*QUOTE_HEAD, "Lead time (weeks)"])
    assert seen.read["lead_days"] == [84]


def test_formats_of_cells_tell_a_second_currency():
    assert told(read_quotes(["A", "L0101", 5, "2027-01-04", ""], facts=Facts(formats={(2, 3): "EUR"}))) == [
        ("two currencies", 2, 3)
    ]


def test_more_rows_than_are_read_at_once_are_named():
    many = [["T01", f"A{number}", f"Dig {number}", 1.0] for number in range(20_001)]
    assert ("too many rows", 0, 0) in told(read_lines(*many))


def test_every_wanted_column_is_found_by_every_heading_it_goes_by():
    for kind, wanted in columns.WANTED.items():
        for column in wanted:
            for heading in column.headings:
                assert heading == columns.plain(heading)
                assert columns.guess([heading.upper()], kind).values(), heading
