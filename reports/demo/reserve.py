"""The demo's risks, funding, rates of the day and savings without a decision."""

from datetime import date
from decimal import Decimal
from functools import partial

from budget.models import Agreement, PaymentStage
from budget.services import funding, rates, risks, stages
from decisions.models import BookEntry, SavingKind
from decisions.services import book
from reports.demo import scenario as source
from reports.demo.replay import Diary, Replay

DEPOSIT, STAGE, DELIVERY, FINAL = (
    PaymentStage.Kind.DEPOSIT, PaymentStage.Kind.STAGE, PaymentStage.Kind.DELIVERY, PaymentStage.Kind.FINAL,
)  # fmt: skip
#: What is made elsewhere, and how it is paid: {line: [(kind, name, share, day or none)]}. The shares are the scenario's, in
#: its invoices and terms; the days of deliveries are its forecasts.
STAGES: dict[str, list[tuple[str, str, int, str | None]]] = {
    "L0204": [(DEPOSIT, "With the order", 30, "2026-11-06"), (DELIVERY, "On delivery", 70, None)],
    "L0303": [(DEPOSIT, "With the order", 20, "2026-10-16"), (DELIVERY, "On delivery", 80, "2027-02-24")],
    "L0501": [
        (DEPOSIT, "With the order", 30, "2026-10-16"), (STAGE, "Half-way", 30, "2027-01-20"),
        (STAGE, "Before dispatch", 35, "2027-03-03"), (FINAL, "After the leak test", 5, None),
    ],
    "L0502": [(DEPOSIT, "With the order", 40, "2026-11-06"), (DELIVERY, "On delivery", 60, "2027-02-16")],
    "L0601": [(DEPOSIT, "With the order", 25, "2026-12-11"), (DELIVERY, "On delivery", 75, "2027-02-19")],
}  # fmt: skip
#: What has come to the site: {line: (day, how it was seen)}.
ARRIVED = {"L0303": ("2027-01-25", "Unloaded by crane, photographed with its marks")}
HOW = {"negotiated": BookEntry.How.NEGOTIATED, "better quote": BookEntry.How.BETTER_QUOTE}


def diary(replay: Replay) -> Diary:
    """Funding on the first day, payment stages with the deposits, arrivals as they came, the rest on the status date."""
    told = replay.scenario
    start, held = source.day(told["about"]["start"]), source.day(told["about"]["status_date"])
    entries: Diary = [
        (start, 8, partial(_fund, replay)), (held, 3, partial(_rate, replay)), (held, 8, partial(_risks, replay)),
        (held, 8, partial(_put_off, replay)),
    ]  # fmt: skip
    entries += [(source.day(str(plan[0][3])), 4, partial(_stage, replay, line)) for line, plan in STAGES.items()]
    entries += [(source.day(on), 4, partial(_arrive, replay, line, seen)) for line, (on, seen) in ARRIVED.items()]
    return entries


def _let(replay: Replay, line: str) -> Agreement:
    return Agreement.objects.get(lines__line=replay.lines[line], reversal=None)


def _stage(replay: Replay, line: str, on: date) -> None:
    rows = [
        stages.StageDraft(kind, name, Decimal(share), due_on=None if due is None else source.day(due))
        for kind, name, share, due in STAGES[line]
    ]
    stages.set_payment_stages(_let(replay, line), rows, by=replay.lead, now=replay.at(on, 10), today=on)


def _arrive(replay: Replay, line: str, seen: str, on: date) -> None:
    stages.arrive(_let(replay, line), arrived_on=on, note=seen, by=replay.lead, now=replay.at(on, 12), today=on)


def talked_down(replay: Replay, line: str, on: date) -> None:
    """Enter what was saved on a line that was let without a decision."""
    for row in replay.scenario["savings_and_overages"]:
        if row["line"] == line and row["decision"] is None and row["kind"] in HOW:
            draft = book.EntryDraft(
                SavingKind.SAME_FOR_LESS, replay.lines[line].pk, row["what"], source.minor(row["amount"]), how=HOW[row["kind"]]
            )  # fmt: skip
            book.add_entry(replay.project, draft, by=replay.lead, now=replay.at(on, 16), today=on)


def _put_off(replay: Replay, on: date) -> None:
    for row in replay.scenario["savings_and_overages"]:
        if row["kind"] == "deferral":
            draft = book.EntryDraft(
                SavingKind.DEFERRAL, replay.lines[row["line"]].pk, row["what"], source.minor(row["amount"]), state=BookEntry.State.IDEA,
                note=row["note"], decision_id=replay.decisions[row["decision"]].pk,
            )  # fmt: skip
            book.add_entry(replay.project, draft, by=replay.lead, now=replay.at(on, 16), today=on)


def _fund(replay: Replay, on: date) -> None:
    for row in replay.scenario["funding"]:
        made = funding.add_source(
            replay.project, name=row["source"], amount_minor=source.minor(row["amount"]), note=row.get("note", ""), by=replay.lead,
            now=replay.at(on, 9), today=on,
        )  # fmt: skip
        if row["received_to_date"]:
            funding.receive(
                made, amount_minor=source.minor(row["received_to_date"]), received_on=on, by=replay.people["bookkeeper"],
                now=replay.at(on, 10), today=on,
            )  # fmt: skip


def _rate(replay: Replay, on: date) -> None:
    for currency, rate in replay.scenario["rates"]["today"].items():
        if currency != replay.project.currency:
            rates.set_today(
                replay.project, currency=currency, rate=Decimal(str(rate)), rated_on=on, by=replay.people["bookkeeper"],
                now=replay.at(on, 7), today=on,
            )  # fmt: skip


def _risks(replay: Replay, on: date) -> None:
    for row in replay.scenario["risks"]:
        draft = risks.RiskDraft(
            what=row["what"], chance=Decimal(str(row["chance"])), cost_minor=source.minor(row["cost"]), days=row["days"],
            line_id=replay.lines[row["line"]].pk, owner=row["owner"], response=row["response"], code=row["id"],
        )  # fmt: skip
        risks.add_risk(replay.project, draft, by=replay.lead, now=replay.at(on, 8), today=on)
