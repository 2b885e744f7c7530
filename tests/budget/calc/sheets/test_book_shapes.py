"""Sheets in other shapes than the demo's, and hostile ones: each row is told for what it is, each doubt is asked.

The shapes are those of the trade notes on spreadsheets (common practice, no source).
"""

import time
from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from budget.calc.sheets import loose, shape
from budget.calc.sheets.grid import Facts
from tests.budget.calc.sheets.messy import HEAD, KNOWN, asked, defaults, kinds, read

# --- Headings -------------------------------------------------------------------------------------------------------


def test_headings_may_take_two_rows_with_the_vendors_below():
    seen = read(["", "", "GBP", "Aridlow", "Norrowby"], ["Concrete", "Slab", "5", "4", "6"])
    assert seen.shape.headings == ("Trade", "Item", "Budget GBP", "Quote 1 Aridlow", "Quote 2 Norrowby")
    assert [price.vendor for price in seen.prices] == ["Aridlow", "Norrowby"] and list(asked(seen)) == ["date"]


def test_headings_may_take_two_rows_with_quotes_merged_above():
    seen = read(
        ["Trade", "Item", "Budget", "Aridlow", "Norrowby"], ["Concrete", "Slab", "5", "4", "6"],
        head=["", "", "", "Quotes", ""], facts=Facts(merged=((1, 4, 1, 5),)),
    )  # fmt: skip
    assert (seen.shape.first, seen.shape.last) == (0, 1)
    assert [price.vendor for price in seen.prices] == ["Aridlow", "Norrowby"]


def test_a_title_that_is_merged_over_the_sheet_is_no_heading():
    seen = read(
        HEAD, ["Concrete", "Slab", "5", "", ""], head=["The hall", "", "", "", ""], facts=Facts(merged=((1, 1, 1, 5),))
    )
    assert kinds(seen) == ["title", "heading", "line"]


def test_a_vendors_name_over_amounts_is_asked_with_the_name_suggested():
    seen = read(["Concrete", "Slab", "5", "4"], head=["Trade", "Item", "Budget", "Aridlow Bros"])
    assert asked(seen)["vendor:3"].default == "=Aridlow Bros"


def test_a_vendor_that_the_project_knows_is_not_asked():
    known = replace(KNOWN, vendors=frozenset({"aridlow bros"}))
    seen = read(["Concrete", "Slab", "5", "4"], head=["Trade", "Item", "Budget", "ARIDLOW BROS"], known=known)
    assert "vendor:3" not in asked(seen) and seen.prices[0].vendor == "ARIDLOW BROS"


def test_a_vendor_may_stand_in_a_column_beside_each_price():
    head = ["Trade", "Item", "Budget", "Contractor 1", "Quote 1", "Contractor 2", "Quote 2"]
    seen = read(
        ["C", "Slab", "5", "Aridlow", "4", "Norrowby", "6"], ["C", "Kerb", "5", "Flintham", "3", "", ""], head=head
    )
    assert [(price.row, price.vendor) for price in seen.prices] == [(2, "Aridlow"), (2, "Norrowby"), (3, "Flintham")]
    assert list(asked(seen)) == ["date"]


def test_only_a_price_without_a_vendor_beside_it_is_asked():
    head = ["Trade", "Item", "Budget", "Quote", "Supplier"]
    seen = read(
        ["C", "Slab", "5", "4", "Aridlow"], ["C", "Kerb", "5", "3", ""], head=head, answers={"vendor:3": "=Norrowby"}
    )
    assert asked(seen)["vendor:3"].about[0] == "1"
    assert [price.vendor for price in seen.prices] == ["Aridlow", "Norrowby"]


def test_bidders_over_amounts_are_columns_of_prices():
    seen = read(["C", "Slab", "5", "4", "6"], head=["Trade", "Item", "Budget", "Bidder 1", "Bidder 2"])
    assert seen.shape.of("quote") == (3, 4) and {"vendor:3", "vendor:4"} <= set(asked(seen))


def test_a_column_of_dates_is_never_taken_for_amounts():
    seen = read(["Concrete", "Slab", "5", "2027-01-29"], head=["Trade", "Item", "Budget", "Aridlow"])
    assert seen.shape.roles["kept 3"] == 3 and not seen.prices


@pytest.mark.parametrize(
    ("heading", "role"),
    [("Retention", "kept"), ("Over/(under)", "kept"), ("Paid to date", "paid"), ("Tender 3", "quote"), ("Budget v7 £", "budget"),
     ("Cheque no.", "kept"), ("Qty", "quantity"), ("Remarks", "note"), ("Zzz", "")],
)  # fmt: skip
def test_a_heading_tells_what_its_column_is_for(heading: str, role: str):
    assert shape.known_role(heading) == role


def test_columns_may_be_chosen():
    seen = read(
        ["C", "Slab", "5"], head=["a", "b", "c"], heading=0, columns={"trade": 0, "description": 1, "budget": 2}
    )
    assert seen.lines[0].description == "Slab" and seen.sum_minor == 500


def test_a_sheet_without_headings_or_rows_says_so():
    assert [t.kind for t in read(head=["x", "y"]).troubles if t.stops] == ["no heading"]
    assert [t.kind for t in read().troubles if t.stops] == ["no rows"]
    assert [t.about for t in read(["x", "5"], head=["Trade", "Quote 1"]).troubles if t.stops] == [
        "description",
        "budget",
    ]


# --- Rows -----------------------------------------------------------------------------------------------------------


def test_a_trade_over_its_lines_holds_until_the_next():
    seen = read(
        ["CONCRETE", "", "", "", ""],
        ["", "Slab", "5", "", ""],
        ["", "Kerb", "6", "", ""],
        ["STEEL", "", "", "", ""],
        ["", "Frame", "7", "", ""],
    )
    assert kinds(seen)[1:] == ["trade", "line", "line", "trade", "line"]
    assert [row.trade for row in seen.rows if row.comes] == ["CONCRETE", "CONCRETE", "STEEL"]


def test_headings_that_stand_again_and_print_notes_are_left_out():
    seen = read(
        ["C", "Slab", "5", "", ""],
        HEAD,
        ["", "page 2 of 3", "", "", ""],
        ["", "", "", "", ""],
        ["C", "Kerb", "6", "", ""],
    )
    assert kinds(seen)[1:] == ["line", "heading", "print note", "blank", "line"]


def test_a_trade_that_is_totalled_by_name_is_a_sub_total():
    seen = read(["C", "Slab", "5", "", ""], ["", "Total concrete", "5", "", ""], ["", "Grand total", "5", "", ""])
    assert kinds(seen)[2:] == ["sub-total", "total"] and [proof.holds for proof in seen.proofs] == [True, True]


def test_somebody_may_say_that_a_row_is_a_line():
    rows = (["C", "Slab", "5", "", ""], ["C", "Total station hire", "7", "", ""])
    assert kinds(read(*rows))[2] == "sub-total"
    assert [line.description for line in read(*rows, answers={"line:3": "yes"}).lines] == ["Slab", "Total station hire"]


def test_amounts_without_a_name_are_asked_and_left_out():
    seen = read(["C", "Slab", "5", "", ""], ["", "", "5", "", ""])
    assert kinds(seen)[2] == "nameless"
    assert (
        read(["C", "Slab", "5", "", ""], ["", "", "5", "", ""], answers={"nameless:3": "=Kerb"}).lines[1].description
        == "Kerb"
    )


def test_a_line_without_any_amount_is_asked():
    seen = read(["C", "Slab", "TBC", "", ""], ["C", "Kerb", "", "", ""])
    assert (asked(seen)["bare:2"].default, asked(seen)["bare:3"].default) == ("zero", "out")
    assert [line.budget_minor for line in seen.lines] == [0]


def test_a_line_with_prices_and_no_budget_is_asked():
    seen = read(["C", "Slab", "", "7", ""])
    assert asked(seen)["unbudgeted:2"].default == "zero"
    assert read(["C", "Slab", "", "7", ""], answers={"unbudgeted:2": "=6,500"}).sum_minor == 650000
    assert read(["C", "Slab", "", "7", ""], answers={"unbudgeted:2": "out"}).lines == []


def test_two_lines_that_differ_in_a_price_are_asked_and_both_stay():
    seen = read(["C", "Slab", "5", "4", ""], ["C", "slab", "5", "6", ""])
    assert asked(seen)["twin:3"].default == "in" and len(seen.lines) == 2


def test_a_row_may_be_left_out():
    seen = read(["C", "Slab", "5", "", ""], ["C", "Kerb", "6", "", ""], out=frozenset({3}))
    assert kinds(seen)[2] == "chosen" and seen.sum_minor == 500


# --- Amounts --------------------------------------------------------------------------------------------------------


def test_an_amount_that_reads_two_ways_is_asked_with_its_readings():
    seen = read(["C", "Slab", "1.234", "", ""])
    question = asked(seen)["cell:2:2"]
    assert (question.options, question.default, seen.ready) == (("123400", "none"), "123400", False)
    assert read(["C", "Slab", "1.234", "", ""], answers={"cell:2:2": "=1.23"}).sum_minor == 123


def test_a_comma_before_three_digits_parts_thousands_where_a_point_parts_decimals():
    assert read(["C", "Slab", "1,234", "", ""]).sum_minor == 123400


def test_the_whole_sheet_tells_that_a_comma_parts_its_decimals():
    seen = read(["C", "Slab", "1.234", "", ""], ["C", "Kerb", "1.234,50", "", ""], ["C", "Edge", "900,5", "", ""])
    assert seen.mark == "," and [line.budget_minor for line in seen.lines] == [123400, 123450, 90050]


def test_a_sheet_that_writes_in_another_way_than_the_project_is_asked_once():
    rows = (["C", "Slab", "900,5", "", ""], ["C", "Kerb", "1.234", "", ""])
    seen = read(*rows)
    assert (asked(seen)["mark"].default, list(asked(seen))) == (",", ["mark"])
    assert seen.sum_minor == 90050 + 123400
    assert read(*rows, answers={"mark": "."}).lines[1].budget_minor == 123400  # asked for itself then, as 900,5 is
    assert set(asked(read(*rows, answers={"mark": "."}))) == {"mark", "cell:2:2", "cell:3:2"}


def test_what_a_doubtful_cell_says_of_tax_is_kept_with_its_answer():
    row = ["C", "Slab", "1.200 incl VAT", "", ""]
    seen = read(row)
    assert list(asked(seen)) == ["cell:2:2", "tax:2:2"] and seen.sum_minor == 100000


def test_a_credit_is_asked_once_a_row_however_many_stand_in_it():
    seen = read(["C", "Glazing credit", "(2)", "(3)", "1.234"], ["C", "Slab", "5", "4", "(7)"])
    assert [key for key in asked(seen) if key.startswith("credit")] == ["credit:2", "credit:3"]
    assert [price.row for price in seen.prices] == [2, 3]


def test_a_date_in_words_of_a_title_is_suggested():
    seen = read(HEAD, ["C", "Slab", "5", "4", ""], head=["Cost plan, as at 12 Jan 2027", "", "", "", ""])
    assert asked(seen)["date"].default == "=2027-01-12"


def test_a_sheet_that_contradicts_itself_is_asked_once():
    rows = (["C", "Slab", "1,234.50", "", ""], ["C", "Kerb", "1.234,50", "", ""], ["C", "Edge", "2.500", "", ""])
    assert "mark" in asked(read(*rows))
    assert read(*rows, answers={"mark": ","}).lines[2].budget_minor == 250000


def test_an_answer_that_fits_no_longer_is_open_again():
    rows = (["C", "Slab", "1,234.50", "", ""], ["C", "Kerb", "1.234,50", "", ""])
    assert asked(read(*rows, answers={"mark": "x"}))["mark"].open
    assert "mark" not in asked(read(*rows, mark="."))


@pytest.mark.parametrize(
    ("key", "answer", "fault"),
    [("rate:PLN", "=0", "no rate"), ("rate:PLN", "=x", "no rate"), ("rate:PLN", "=1e99", "no rate"), ("vendor:3", "= ", "no name"),
     ("vendor:3", "=" + "x" * 161, "too long"), ("date", "=2028-01-01", "in the future"), ("date", "=soon", "no date"),
     ("cell:2:2", "=abc", "no amount"), ("cell:2:2", "=-5", "below zero"), ("cell:2:2", "17", "not an option")],
)  # fmt: skip
def test_an_answer_that_does_not_do_stays_open(key: str, answer: str, fault: str):
    seen = read(["C", "Slab", "1.234", "PLN 500", ""], answers={key: answer})
    assert (asked(seen)[key].fault, asked(seen)[key].open) == (fault, True)


def test_a_currency_without_a_rate_is_asked_by_name_and_may_stay_text():
    row = ["C", "Slab", "5", "PLN 500", ""]
    assert read(row).prices == [] and asked(read(row))["rate:PLN"].about == ("PLN", "GBP")
    assert str(read(row, answers={"rate:PLN": "=0.2"}).prices[0].rate) == "0.2"
    assert read(row, answers=defaults(read(row), **{"rate:PLN": "none"})).ready


def test_a_heading_in_another_currency_holds_for_its_column():
    seen = read(["C", "Slab", "100", "4", ""], head=["Trade", "Item", "Budget (EUR)", "Quote 1 (USD)", "Quote 2"])
    assert seen.sum_minor == 8600 and seen.prices[0].currency == "USD"


def test_a_number_format_in_another_currency_holds_for_its_cell():
    seen = read(["C", "Slab", 100.0, 4.0, ""], facts=Facts(formats={(2, 4): "EUR"}))
    assert (seen.prices[0].currency, seen.prices[0].minor) == ("EUR", 400)


def test_tax_that_is_inside_is_asked_and_taken_out():
    row = ["C", "Slab", "1,200 incl VAT", "600 inc VAT", ""]
    seen = read(row)
    assert asked(seen)["tax:2:2"].default == "inside" and seen.sum_minor == 100000
    assert seen.prices[0].tax_inside == 20 and seen.prices[0].minor == 60000
    assert read(row, answers={"tax:2:2": "stands", "tax:2:3": "stands"}).sum_minor == 120000


def test_a_zero_is_no_quote_unless_somebody_says_so():
    rows = (["C", "Slab", "5", "0", ""], ["C", "Kerb", "6", "0", ""])
    assert [key for key in asked(read(*rows)) if key.startswith("zero")] == ["zero:3"] and not read(*rows).prices
    assert len(read(*rows, answers={"zero:3": "priced"}).prices) == 2


def test_a_guess_at_a_price_is_an_estimate():
    assert [price.estimate for price in read(["C", "Slab", "5", "c. 4,000", "4,500"]).prices] == [True, False]


def test_a_negative_budget_is_a_credit_and_is_asked():
    seen = read(["C", "Slab", "5", "", ""], ["C", "Glazing credit", "(2)", "", ""])
    assert asked(seen)["credit:3"].default == "keep" and seen.sum_minor == 500 and len(seen.lines) == 2


def test_lines_of_a_contingency_have_no_quotes():
    seen = read(["Contingency", "General", "5,000", "4,000", ""])
    assert seen.lines[0].kind == "contingency" and not seen.prices
    assert [(t.kind, t.row, t.column, t.given, t.stops) for t in seen.troubles] == [
        ("quote on a contingency", 2, 4, "4,000", False)
    ]


def test_a_description_that_is_too_long_is_cut_and_kept_whole():
    text = "Slab " * 60
    seen = read(["C", text, "5", "", ""])
    assert len(seen.lines[0].description) == 200 and seen.lines[0].kept[0].given == text.strip()
    assert [(t.kind, t.stops) for t in seen.troubles] == [("cut short", False)]


def test_a_percentage_that_comes_in_counts_in_the_stated_total():
    rows = (["C", "Slab", "1,000", "", ""], ["Contingency", "10%", "", "", ""], ["", "TOTAL", "1,100", "", ""])
    assert not read(*rows).proofs[0].holds
    assert read(*rows, answers={"percent:3": "10000"}).proofs[0].holds


# --- Codes and trades -----------------------------------------------------------------------------------------------


def test_a_trade_near_one_of_the_project_is_asked_once():
    known = replace(
        KNOWN,
        trades={"t01": "T01", "demolition and groundworks": "T01"},
        trade_names={"T01": "Demolition and groundworks"},
    )
    rows = (["Groundworks", "Dig", "5", "", ""], ["Groundworks", "Cart", "6", "", ""])
    seen = read(*rows, known=known)
    assert asked(seen)["trade:groundworks"].default == "T01" and [line.trade for line in seen.lines] == ["T01", "T01"]
    assert read(*rows, known=known, answers={"trade:groundworks": "new"}).new_trades == {"T02": "Groundworks"}


def test_a_trade_in_capitals_is_the_same_trade():
    known = replace(KNOWN, trades={"t05": "T05", "structural steel": "T05"}, trade_names={"T05": "Structural steel"})
    rows = (["STEEL", "Frame", "5", "", ""], ["Steel", "Bolts", "6", "", ""])
    assert list(asked(read(*rows, known=known))) == ["trade:steel"]
    assert read(*rows, known=known, answers={"trade:steel": "new"}).new_trades == {"T01": "STEEL"}


def test_a_sheet_without_trades_asks_for_one():
    seen = read(["Slab", "5"], head=["Item", "Budget"])
    assert asked(seen)["trade:"].typed == "name" and not seen.ready
    assert read(["Slab", "5"], head=["Item", "Budget"], answers={"trade:": "=Concrete"}).new_trades == {
        "T01": "Concrete"
    }


def test_a_code_that_is_taken_or_there_twice_is_asked():
    known = replace(KNOWN, codes=frozenset({"A1"}))
    head = ["Trade", "Code", "Item", "Budget"]
    seen = read(["C", "A1", "Slab", "5"], ["C", "A2", "Kerb", "6"], ["C", "A2", "Edge", "7"], head=head, known=known)
    assert [line.code for line in seen.lines] == ["T01-01", "A2", "T01-02"]
    assert {"code:2", "code:4"} <= set(asked(seen))


# --- Hostile sheets -------------------------------------------------------------------------------------------------


def test_hidden_rows_and_columns_merged_cells_and_formulas_are_told():
    facts = Facts(
        merged=((2, 2, 2, 3), (2, 1, 3, 1)), hidden_rows=frozenset({3}), hidden_columns=frozenset({4}), formulas=((2, 3),), formula_count=2,
    )  # fmt: skip
    seen = read(["C", "Slab", "5", "4", ""], ["", "Kerb", "6", "", ""], facts=facts)
    assert [(t.kind, t.stops) for t in seen.troubles] == [
        ("formulas", False), ("merged", False), ("hidden row", False), ("hidden column", False),
    ]  # fmt: skip
    assert [row.trade for row in seen.rows[1:]] == ["C", "C"] and len(seen.lines) == 2


@pytest.mark.parametrize(
    "cell",
    [
        "#REF!",
        "=1+1",
        "\x00",
        "£",
        "9" * 60,
        "--",
        "((5))",
        "1e9",
        "\u0661\u0662",
        "5" * 15,
        "=cmd|' /C calc'!A0",
        1e300,
        -0.0,
    ],
)
def test_no_cell_breaks_the_reader(cell: Any):
    seen = read(["C", "Slab", cell, cell, cell], [cell, cell, cell, cell, cell], [cell, "Kerb", "5", "", ""])
    assert len(seen.rows) == 4 and all(line.budget_minor >= 0 for line in seen.lines)


def test_rows_may_be_shorter_or_longer_than_the_headings():
    seen = read(["C"], ["C", "Slab"], ["C", "Kerb", "5", "", "", "more", "", "x"], [])
    assert [line.description for line in seen.lines] == ["Kerb"]


def test_a_sheet_of_twenty_thousand_rows_is_read_and_one_more_is_refused():
    rows = [["C" if not number % 500 else "", f"Work {number}", f"£{number:,}.50", "", ""] for number in range(20_000)]
    begun = time.process_time()
    seen = read(*rows)
    assert len(seen.lines) == 20_000 and time.process_time() - begun < 60
    assert "too many rows" in {
        trouble.kind for trouble in read(*rows, ["C", "More", "5", "", ""]).troubles if trouble.stops
    }


def test_the_reading_of_a_cell_does_not_hang_on_its_neighbours():
    alone = read(["C", "Slab", "18.9k", "", ""]).lines[0].budget_minor
    among = read(["C", "Slab", "18.9k", "", ""], ["C", "Kerb", "€1.234,50", "", ""]).lines[0].budget_minor
    assert alone == among == 1890000
    assert isinstance(loose.read("18.9k", loose.Ways("GBP", ",", "GBP")), loose.Doubt)


def test_without_quotes_no_date_is_asked():
    assert "date" not in asked(read(["C", "Slab", "5", "", ""])) and read(["C", "Slab", "5", "", ""]).quoted_on == date(
        2027, 2, 1
    )
