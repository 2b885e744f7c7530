"""The sheets of the budget: lines, the ledger of movements, changes, budget moved, savings."""

from collections.abc import Iterable, Iterator
from typing import Any

from django.utils.text import capfirst
from django.utils.translation import gettext as _

from budget.calc.forecast import ChangeFact, expected_changes
from budget.models import Cause, Change, LineItem, LineState, Transfer
from decisions.calc import savings_life
from reports.selectors import workbook as rows
from reports.sheets.workbook.book import Book, Sheet
from reports.sheets.workbook.cells import quoted
from reports.sheets.workbook.table import Column, Table, yes_or_no

Row = tuple[Any, ...]


def counts_words() -> dict[str, str]:
    """How a line counts, in words; formulas compare with them."""
    return {rows.WORK: _("work"), rows.ASIDE: _("set aside"), rows.OFF: _("taken off")}


def savings_words() -> dict[str, str]:
    """How an entry of the savings book counts, in words."""
    return {"counted": _("counted"), "beside": _("shown, never added"), "idea": _("idea")}


def _labels(choices: Any) -> dict[str, str]:
    return {member.value: str(member.label) for member in choices}


# --- Lines ----------------------------------------------------------------------------------------------------------


def lines_sheet(book: Book) -> Sheet:
    note = _("One row a line. Its likely final is its first budget and the movements of the ledger.")
    return book.sheet(_("Lines"), _("Lines"), note)


def _line_columns(book: Book) -> list[Column]:
    yes = quoted(_("yes"))
    likely = "ROUND([budget]+SUMIFS(movement_amount,movement_line,[number]),[digits])"
    moved = (
        "ROUND(SUMIFS(transfer_amount,transfer_to,[number])-SUMIFS(transfer_amount,transfer_from,[number]),[digits])"
    )
    changes = f"ROUND(SUMIFS(change_amount,change_line,[number],change_state,{quoted(str(Change.State.AGREED.label))}),[digits])"
    withheld = f"ROUND(SUMIFS(billed_retention_own,billed_line,[number],billed_counts,{yes}),[digits])"
    against = 'IF([original]="","",ROUND([likely]-[original],[digits]))'
    return [
        Column("number", _("No."), "key", 6, named=True),
        Column("code", _("Code"), width=10),
        Column("description", _("What"), width=34),
        Column("trade_number", _("Trade no."), "key", 7, named=True),
        Column("trade", _("Trade"), width=30),
        Column("kind", _("Kind"), width=12),
        Column("counts", _("Counts as"), width=10, named=True),
        Column("state", _("State"), width=12),
        Column("budget", _("First budget"), "amount", 15, named=True, total=True),
        Column("moved", _("Budget moved"), "signed", 14, moved, named=True, total=True),
        Column("original", _("Original quote"), "amount", 15, named=True, total=True),
        Column("agreed", _("Agreed"), "amount", 15, named=True, total=True),
        Column("changes", _("Changes agreed"), "signed", 14, changes, named=True, total=True),
        Column("invoiced", _("Invoiced"), "amount", 15, "ROUND(SUMIFS(billed_invoiced,billed_line,[number]),[digits])", True, True),
        Column("paid", _("Paid, with its tax"), "amount", 15, "ROUND(SUMIFS(billed_paid,billed_line,[number]),[digits])", True, True),
        Column("withheld", _("Retention withheld"), "amount", 14, withheld, named=True, total=True),
        Column("likely", _("Likely final"), "amount", 15, likely, named=True, total=True),
        Column("over", _("Over or under budget"), "signed", 15, "ROUND([likely]-[budget],[digits])", True, True),
        Column("against", _("Extra or saved against the original quote"), "signed", 17, against, named=True, total=True),
    ]  # fmt: skip


def write_lines(sheet: Sheet, seen: rows.Plan) -> None:
    table = Table(sheet, "line", _line_columns(sheet.book), freeze=3)
    counts, kinds, states = counts_words(), _labels(LineItem.Kind), _labels(LineState)
    table.write(
        (
            (
                line.number, line.code, line.description, line.trade_number, line.trade, kinds[line.kind],
                counts[line.counts], states[line.state], line.budget, line.moved, line.original, line.agreed,
                line.changes, line.invoiced, line.paid, line.withheld, line.likely, line.likely - line.budget,
                line.against,
            )
            for line in seen.lines
        ),
        total=_("All lines, money set aside with them"),
        nothing=_("No line yet."),
    )  # fmt: skip


# --- The ledger -----------------------------------------------------------------------------------------------------


def movements_sheet(book: Book) -> Sheet:
    note = _("The ledger: every step of a likely final, with its cause, in the order it was written.")
    return book.sheet(_("Movements"), _("Movements"), note)


def write_movements(sheet: Sheet, moved: Iterable[rows.Moved]) -> None:
    columns = [
        Column("number", _("No."), "key", 7),
        Column("on", _("Date"), "date", 12),
        Column("line", _("Line no."), "key", 7, named=True),
        Column("code", _("Line"), width=12),
        Column("counts", _("Counts as"), width=10, named=True),
        Column("cause", _("Cause"), width=18, named=True),
        Column("amount", _("Amount"), "signed", 16, named=True, total=True),
        Column("reverses", _("Reverses no."), "number", 9),
        Column("note", _("Note"), "after", 60),
    ]
    counts, causes = counts_words(), _labels(Cause)
    Table(sheet, "movement", columns).write(
        (
            (
                row.number, row.on, row.line.number, row.line.code, counts[row.line.counts], capfirst(causes[row.cause]), row.amount,
                row.reverses, row.note,
            )
            for row in moved
        ),
        total=_("All movements"),
        nothing=_("Nothing has moved yet."),
    )  # fmt: skip


# --- Changes and budget moved ---------------------------------------------------------------------------------------


def changes_sheet(book: Book) -> Sheet:
    note = _("Alterations of what was agreed. A proposed one counts by its chance, an agreed one in full.")
    return book.sheet(_("Changes"), _("Changes"), note)


def write_changes(sheet: Sheet, changes: Iterable[Change], seen: rows.Plan) -> None:
    agreed, proposed = (quoted(str(state.label)) for state in (Change.State.AGREED, Change.State.PROPOSED))
    counted = f"IF([state]={agreed},[amount],IF([state]={proposed},ROUND([amount]*[chance],[digits]),0))"
    columns = [
        Column("number", _("No."), "key", 6),
        Column("code", _("Code"), width=10),
        Column("title", _("What"), width=44),
        Column("line", _("Line no."), "key", 7, named=True),
        Column("line_code", _("Line"), width=12),
        Column("reason", _("Reason"), width=36),
        Column("paid_from", _("Paid from"), width=30),
        Column("asked_by", _("Asked for by"), width=18),
        Column("state", _("State"), width=11, named=True),
        Column("raised", _("Raised"), "date", 12),
        Column("decided", _("Decided"), "date", 12),
        Column("days", _("Days"), "number", 7),
        Column("ceiling", _("At most"), "after", 9),
        Column("amount", _("Amount"), "signed", 15, named=True),
        Column("chance", _("Chance"), "share", 9),
        Column("counted", _("By its state and chance"), "signed", 15, counted, total=True),
    ]
    Table(sheet, "change", columns, freeze=3).write(
        _change_rows(changes, seen), total=_("Agreed, and proposed by their chance"), nothing=_("No change yet.")
    )


def _change_rows(changes: Iterable[Change], seen: rows.Plan) -> Iterator[Row]:
    for number, row in enumerate(changes, start=1):
        line = seen.by_pk[row.line_id]
        counted = expected_changes([ChangeFact(row.amount_minor, row.state, row.chance)])
        yield (
            number, row.code, row.title, line.number, line.code, row.get_reason_display(), row.get_paid_from_display(),
            row.asked_by, row.get_state_display(), row.raised_on, row.decided_on, row.days, yes_or_no(row.is_ceiling),
            row.amount_minor, row.chance, counted,
        )  # fmt: skip


def transfers_sheet(book: Book) -> Sheet:
    note = _("Budget moved from line to line, most often out of the contingency. The total of the budgets stays.")
    return book.sheet(_("Budget moved"), _("Budget moved"), note)


def write_transfers(sheet: Sheet, transfers: Iterable[Transfer], seen: rows.Plan) -> None:
    columns = [
        Column("number", _("No."), "key", 6),
        Column("on", _("Date"), "date", 12),
        Column("from", _("From no."), "key", 8, named=True),
        Column("from_code", _("From"), width=12),
        Column("to", _("To no."), "key", 8, named=True),
        Column("to_code", _("To"), width=12),
        Column("amount", _("Amount"), "amount", 15, named=True),
        Column("cause", _("Cause"), "after", 28),
        Column("change", _("Change"), width=10),
        Column("reason", _("Reason"), width=48),
        Column("by", _("Approved by"), width=20),
        Column("reversal", _("Takes one back"), width=10),
    ]
    Table(sheet, "transfer", columns).write(
        (
            (
                number, row.moved_on, seen.by_pk[row.from_line_id].number, seen.by_pk[row.from_line_id].code,
                seen.by_pk[row.to_line_id].number, seen.by_pk[row.to_line_id].code, row.amount_minor,
                row.get_cause_display(), row.change.code if row.change else "", row.reason, row.approved_by_name,
                yes_or_no(row.reverses_id is not None),
            )
            for number, row in enumerate(transfers, start=1)
        ),
        total="",
        nothing=_("No budget was moved yet."),
    )  # fmt: skip


# --- Savings --------------------------------------------------------------------------------------------------------


def savings_sheet(book: Book) -> Sheet:
    note = _("The savings book: above zero for saved, below for what eats into it.")
    return book.sheet(_("Savings"), _("Savings"), note)


def write_savings(sheet: Sheet, entries: Iterable[rows.SavingRow]) -> None:
    columns = [
        Column("number", _("No."), "key", 6),
        Column("kind", _("Kind"), width=34, named=True),
        Column("what", _("What"), width=46),
        Column("decision", _("Decision"), width=10),
        Column("lines", _("Lines"), width=20),
        Column("state", _("State"), width=14),
        Column("counts", _("Counts as"), width=18, named=True),
        Column("promised", _("Promised"), "signed", 15, named=True, above_is_saved=True),
        Column("realised", _("Realised"), "signed", 15, named=True, above_is_saved=True),
        Column("cause", _("Why"), "after", 40),
    ]
    states, counts = _state_words(), savings_words()
    Table(sheet, "saving", columns, freeze=3).write(
        (
            (
                number, capfirst(row.label), row.what, row.decision, ", ".join(row.lines), states[row.state],
                counts["counted" if row.counts else "idea" if row.is_idea else "beside"], row.promised, row.realised, row.cause,
            )
            for number, row in enumerate(entries, start=1)
        ),
        total="",
        nothing=_("Nothing was saved or added yet."),
    )  # fmt: skip


def _state_words() -> dict[str, str]:
    return {
        savings_life.IDEA: _("idea"),
        savings_life.PRICED: _("priced"),
        savings_life.DECIDED: _("decided"),
        savings_life.CONTRACTED: _("contracted"),
        savings_life.PART_REALISED: _("part realised"),
        savings_life.BANKED: _("banked"),
    }
