"""The messy sheet of the demo: every line of what is expected of it, and then what its answers change.

Source: the demo's own expected reading, beside the sheet in its file; written by hand before this reader was.
"""

import re
from typing import Any

import pytest

from budget.calc.sheets.loose import Empty, Figure
from tests.budget.calc.sheets.messy import EXPECTED, MESSY, ROWS, asked, defaults, kinds, messy

#: What the expected reading calls a row -> what the reader calls it.
WHY = {
    "title": "title", "print note": "print note", "blank": "blank", "sub-total": "sub-total", "total row": "total",
    "likely duplicate of row 14, ask": "twin", "percentage line, ask": "percent",
}  # fmt: skip
#: What the expected reading says of how a cell was read -> the reader's word for it.
HOW = {
    "18.9k": "thousands", "space as thousands mark": "space", "brackets": "brackets", "trailing minus": "trailing minus",
    "point for thousands, comma for pence": "marks of its own",
}  # fmt: skip


def place_of(heading: str) -> int:
    return ROWS[EXPECTED["header_row"] - 1].index(heading)


def test_the_headings_are_found_below_the_titles():
    seen = messy()
    assert seen.shape.first == seen.shape.last == EXPECTED["header_row"] - 1
    assert [seen.shape.headings[place] for place in seen.shape.of("quote")] == ["Quote 1", "Quote 2"]


def test_as_many_rows_come_in_as_are_expected():
    assert len(messy().lines) == EXPECTED["data_rows"]


@pytest.mark.parametrize("skipped", EXPECTED["skipped"], ids=lambda skipped: f"row {skipped['row']}")
def test_a_row_is_skipped_for_the_expected_reason(skipped: dict[str, Any]):
    seen = messy()
    row = seen.rows[skipped["row"] - 1]
    assert (row.why or row.kind) == WHY[skipped["why"]] and not row.comes
    if "ask" in skipped["why"]:
        assert asked(seen)[f"{row.why}:{row.number}"].open


def test_the_likely_duplicate_names_the_row_it_is_like():
    seen = messy()
    assert asked(seen)["twin:15"].about == ("14",) and seen.rows[14].twin == 14


def test_no_other_row_is_skipped():
    skipped = {entry["row"] for entry in EXPECTED["skipped"]} | {EXPECTED["header_row"]}
    assert {row.number for row in messy().rows if not row.comes} == skipped


@pytest.mark.parametrize(("row", "trade"), EXPECTED["carried_down_trade"].items())
def test_a_trade_written_once_is_carried_down(row: str, trade: str):
    found = messy().rows[int(row) - 1]
    assert (found.trade, found.carried) == (trade, True)


def test_trades_are_carried_to_no_other_row():
    carried = {str(row.number) for row in messy().rows if row.carried}
    assert carried == set(EXPECTED["carried_down_trade"])


@pytest.mark.parametrize("value", EXPECTED["values"], ids=lambda value: f"{value['column']} {value['row']}")
def test_a_cell_is_read_as_expected(value: dict[str, Any]):
    read = messy().rows[value["row"] - 1].reads[place_of(value["column"])]
    if value["value"] is None:
        assert isinstance(read, Empty) and read.how == {"TBC": "word"}.get(value["read_as"], "dash")
        return
    assert isinstance(read, Figure)
    assert (read.minor, read.currency) == (value["value"] * 100, value.get("currency", "GBP"))
    assert read.note == value.get("note_kept", "")
    assert "read_as" not in value or HOW[value["read_as"]] in read.how


def amounts_in(words: str) -> list[int]:
    return [int(figure.replace(",", "")) * 100 for figure in re.findall(r"[0-9]{1,3}(?:,[0-9]{3})+", words)]


def test_the_sub_total_of_the_budget_holds():
    proof = next(proof for proof in messy().proofs if (proof.row, proof.column) == (8, place_of("Budget")))
    stated, *parts = amounts_in(EXPECTED["checks"][0]["what"])
    assert proof.holds is EXPECTED["checks"][0]["holds"] and proof.stated == stated == sum(parts) == proof.found


def test_the_sub_total_of_what_was_paid_holds():
    proof = next(proof for proof in messy().proofs if (proof.row, proof.column) == (8, place_of("Paid to date")))
    stated, *parts = amounts_in(EXPECTED["checks"][1]["what"])
    assert proof.holds is EXPECTED["checks"][1]["holds"] and proof.stated == stated == sum(parts) == proof.found


def test_the_stated_total_does_not_match_with_the_duplicate_or_without_it():
    proof = next(proof for proof in messy().proofs if proof.row == 17)
    stated, without, with_it = amounts_in(EXPECTED["checks"][2]["what"])
    assert (proof.stated, proof.found, proof.with_asked) == (stated, without, with_it)
    assert not proof.holds and proof.blames == ()  # no row, pair or range makes 88,400


def test_nothing_else_is_proved_than_what_the_sheet_states():
    assert [(proof.row, proof.holds) for proof in messy().proofs] == [(8, True), (8, True), (17, False)]


def test_the_budget_without_the_duplicate_is_the_expected_sum():
    assert messy().sum_minor == EXPECTED["sum_of_budget_without_duplicate"] * 100


def test_everything_in_doubt_is_asked_and_nothing_else():
    assert list(asked(messy())) == [
        "twin:15", "percent:16", "vendor:3", "vendor:4", "date", "credit:11", "currency:12:2", "currency:12:4",
    ]  # fmt: skip


def test_nothing_comes_in_before_every_question_is_answered():
    seen = messy()
    answers = defaults(seen)
    assert not seen.ready and messy(answers=answers).ready
    for key in answers:
        fewer = {name: answer for name, answer in answers.items() if name != key}
        assert messy(answers=fewer).stops == 1, key


def test_the_duplicate_comes_in_when_it_is_said_to_be_another():
    seen = messy(answers={"twin:15": "in"})
    assert len(seen.lines) == EXPECTED["data_rows"] + 1
    assert seen.sum_minor == amounts_in(EXPECTED["checks"][2]["what"])[2]


def test_the_percentage_may_become_a_line_of_what_it_comes_to():
    seen = messy(answers={"percent:16": asked(messy())["percent:16"].options[1]})
    line = seen.lines[-1]
    assert (line.row, line.kind, line.budget_minor) == (16, "contingency", 4295000)
    assert messy(answers={"percent:16": "=40,000"}).lines[-1].budget_minor == 4000000


def test_the_credit_is_no_quote_and_is_kept_in_its_own_words():
    line = next(line for line in messy().lines if line.row == 11)
    assert line.budget_minor == 0 and 11 not in {price.row for price in messy().prices}
    assert [(cell.heading, cell.given, cell.minor) for cell in line.kept] == [
        ("Quote 1", "(600)", -60000), ("Paid to date", "600-", -60000), ("Notes", "credit note", None),
    ]  # fmt: skip
    assert 11 not in {line.row for line in messy(answers={"credit:11": "out"}).lines}


def test_a_currency_in_a_lines_name_is_asked_for_the_cells_that_name_none():
    shell = [price for price in messy().prices if price.row == 12]
    assert [(price.currency, price.minor) for price in shell] == [("EUR", 15840000), ("GBP", 15160000)]
    euros = messy(answers={"currency:12:2": "EUR", "currency:12:4": "EUR"})
    assert [price.currency for price in euros.prices if price.row == 12] == ["EUR", "EUR"]
    assert next(line for line in euros.lines if line.row == 12).budget_minor == 14800000 * 86 // 100


def test_a_note_beside_a_price_stays_with_the_quote():
    notes = {(price.row, price.column): price.note for price in messy().prices}
    assert notes[5, 5] == "20850 excl tipping" and notes[9, 4] == "57,200+VAT"


def test_one_vendor_for_a_column_and_another_for_one_trade():
    answers = {"vendor:3": "=Aridlow", "vendor:3:tank": "=Brunnhalde", "vendor:4": "none"}
    found = {price.row: price.vendor for price in messy(answers=answers).prices}
    assert (found[4], found[12], found[13]) == ("Aridlow", "Brunnhalde", "Brunnhalde")
    assert {price.column for price in messy(answers=answers).prices} == {4}


def test_the_date_of_the_print_note_is_suggested():
    question = asked(messy())["date"]
    assert (question.default, question.about) == ("=2027-01-29", ("printed",))
    assert str(messy(answers={"date": "=2027-01-04"}).quoted_on) == "2027-01-04"


def test_every_cell_of_a_line_is_kept_in_its_own_words():
    line = next(line for line in messy().lines if line.row == 6)
    assert ("Budget", "18.9k", 1890000, "GBP") in [(c.heading, c.given, c.minor, c.currency) for c in line.kept]
    assert ("Notes", "incl extra (timber)", None, "") in [(c.heading, c.given, c.minor, c.currency) for c in line.kept]


def test_the_sheet_is_the_one_of_the_demo():
    assert MESSY["text"].startswith("Skerrywick Wreck Hall - BUDGET v7") and kinds(messy())[:3] == [
        "title",
        "print note",
        "heading",
    ]
