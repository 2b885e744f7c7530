"""The demo's changes, invoices and payments, entered on their days by the people who did so."""

from collections.abc import Mapping
from datetime import date, timedelta
from decimal import Decimal
from functools import partial
from typing import Any

from budget.models import Agreement, AgreementGap, Change, KnockOn, LineItem
from budget.services import changes, closing, invoices, payments, progress, retention
from projects.models import Role
from reports.demo import scenario as source
from reports.demo.replay import Diary, Replay

REASONS = {
    "unforeseen condition": Change.Reason.UNFORESEEN,
    "owner choice": Change.Reason.WISH,
    "design error": Change.Reason.DESIGN,
    "error on site": Change.Reason.SITE,
    "scope gap": Change.Reason.GAP,
    "statutory or safety": Change.Reason.AUTHORITY,
    "prolongation": Change.Reason.PROLONGATION,
    "scope reduction": Change.Reason.CUT,
}
SOURCES = {
    "contingency": Change.Source.CONTINGENCY,
    "owner's addition": Change.Source.OWNER,
    "saving D01": Change.Source.SAVING,
    "back-charge": Change.Source.BACK_CHARGE,
    "credit": Change.Source.CREDIT,
}
#: The changes that price what an agreement left open, or put a decision's effect into one.
PRICES_A_GAP, TAKES_AN_EFFECT = {"C09", "C10"}, {"C04", "C07"}
#: Days from an invoice to its payment, and from a line's last invoice to its closing.
PAID_AFTER, CLOSED_AFTER = timedelta(days=21), timedelta(days=5)
YEAR = timedelta(days=365)


def diary(replay: Replay) -> Diary:
    """Changes first, then invoices, then payments, then lines closed; within a day in that order."""
    told, held = replay.scenario, source.day(replay.scenario["about"]["status_date"])
    entries: Diary = []
    for row in told["changes"]:
        entries.append((source.day(row["date"]), 4, partial(_change, replay, row)))
    for row in told["invoices"]:
        on = source.day(row["date"])
        entries.append((on, 5, partial(_invoice, replay, row)))
        if row["state"] == "paid":
            entries.append((min(on + PAID_AFTER, held), 6, partial(_pay, replay, row)))
    for line in told["lines"]:
        if line["state"] == "closed":
            last = max(source.day(row["date"]) for row in told["invoices"] if _counts(row, line["code"]))
            entries.append((min(last + CLOSED_AFTER, held), 7, partial(_close, replay, line)))
        if line["progress"]:
            entries.append((held, 7, partial(_see, replay, line)))
    return entries


def _counts(row: Mapping[str, Any], line: str) -> bool:
    return row["line"] == line and row["state"] != "query"


def _change(replay: Replay, row: Mapping[str, Any], on: date) -> None:
    line, amount = replay.lines[row["line"]], source.minor(row["amount"])
    draft = changes.ChangeDraft(
        line_id=line.pk, title=row["title"], reason=_reason(row), amount_minor=amount, paid_from=SOURCES[row["paid_from"]],
        days=row["days"], chance=Decimal(str(row["chance"])), asked_by=row["asked_by"], note=row["note"], code=row["id"],
        raised_on=on, gap_id=_gap(line, row, amount), knock_on_id=_effect(line, row),
    )  # fmt: skip
    raised = changes.raise_change(
        replay.project, draft, by=replay.lead, role=Role.LEAD, now=replay.at(on, 11), today=on
    )
    if row["status"] == "approved":
        by, role = (
            (replay.lead, Role.LEAD) if row["approved_by"] == "Site lead" else (replay.people["owner"], Role.OWNER)
        )
        changes.agree(raised, by=by, role=role, note=row["approved_by"], now=replay.at(on, 16), today=on)
    replay.changes[row["id"]] = Change.objects.get(pk=raised.pk)


def _reason(row: Mapping[str, Any]) -> str:
    """A wish that spares money is a cut of scope; the design that a decision needs is not a wish."""
    if row["reason"] == "owner choice" and row["amount"] < 0:
        return Change.Reason.CUT
    return REASONS[row["reason"]]


def _gap(line: LineItem, row: Mapping[str, Any], amount: int) -> int | None:
    if row["id"] not in PRICES_A_GAP:
        return None
    return AgreementGap.objects.get(agreement_line__line=line, amount_minor=amount).pk


def _effect(line: LineItem, row: Mapping[str, Any]) -> int | None:
    return KnockOn.objects.get(line=line).pk if row["id"] in TAKES_AN_EFFECT else None


def _invoice(replay: Replay, row: Mapping[str, Any], on: date) -> None:
    foreign = row["currency"] != replay.project.currency
    tax, retention = source.minor(row["vat_on_invoice"]), source.minor(row["retention_in_base"])
    change = replay.changes[row["change"]].pk if row["change"] else None
    line = invoices.InvoicedLine(
        replay.lines[row["line"]].pk, source.minor(row["net_as_given"]), tax, retention, change
    )
    draft = invoices.InvoiceDraft(
        vendor=row["vendor"], number=row["number"], kind="credit" if row["net_as_given"] < 0 else "invoice",
        currency=row["currency"], rate=Decimal(str(row["rate_on_payment"])) if foreign else None, invoiced_on=on, received_on=on,
        tax_percent=Decimal(20) if row["vat_expected"] else Decimal(0), lines=(line,), note=row["note"],
        credits_id=_credited(replay, row),
    )  # fmt: skip
    entered = invoices.enter_invoice(
        replay.project, draft, by=replay.people["bookkeeper"], now=replay.at(on, 9), today=on
    )
    if row["state"] != "query":
        note = row["note"] or "Seen and agreed"
        invoices.approve(
            entered, by=replay.people["owner"], role=Role.OWNER, note=note, now=replay.at(on, 15), today=on
        )
    replay.invoices[row["id"]] = entered


def _credited(replay: Replay, row: Mapping[str, Any]) -> int | None:
    """The invoice that a credit note names by its number."""
    if row["net_as_given"] >= 0:
        return None
    return next(
        replay.invoices[other["id"]].pk
        for other in replay.scenario["invoices"]
        if row["number"].startswith(other["number"]) and other is not row
    )


def _pay(replay: Replay, row: Mapping[str, Any], on: date) -> None:
    rate = None if row["rate_on_payment"] is None else Decimal(str(row["rate_on_payment"]))
    payments.pay(
        replay.invoices[row["id"]], paid_on=on, rate=rate, reference=row["number"], by=replay.people["bookkeeper"],
        now=replay.at(on, 14), today=on,
    )  # fmt: skip


def _close(replay: Replay, line: Mapping[str, Any], on: date) -> None:
    closing.close_line(
        replay.lines[line["code"]], note="final account agreed", by=replay.lead, now=replay.at(on, 16), today=on
    )
    _give_half_back(replay, line["code"], on)


def _give_half_back(replay: Replay, line: str, on: date) -> None:
    """Half of the retention goes back with the final account, the rest a year later; the scenario's sum held says so."""
    agreement = Agreement.objects.get(lines__line=replay.lines[line], reversal=None)
    if agreement.retention_percent:
        halves = [("With the final account", Decimal(50), on), ("A year after it", Decimal(50), on + YEAR)]
        retention.set_stages(agreement, halves, by=replay.lead, now=replay.at(on, 16), today=on)
        retention.release(
            agreement,
            released_on=on,
            note="final account",
            by=replay.people["bookkeeper"],
            now=replay.at(on, 17),
            today=on,
        )


def _see(replay: Replay, line: Mapping[str, Any], on: date) -> None:
    progress.note_seen(
        replay.lines[line["code"]], percent=Decimal(str(line["progress"]["seen_percent"])), seen_on=on, note="walked with the trade",
        by=replay.lead, now=replay.at(on, 7), today=on,
    )  # fmt: skip
