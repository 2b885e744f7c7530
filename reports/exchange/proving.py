"""Proof that the figures kept for speed are the ones that their sources give, and that no record was altered."""

from collections.abc import Iterator, Sequence

from budget.models import LineItem, OriginalQuote
from budget.selectors import invoices
from budget.selectors.packages import net_of, packages
from budget.services import ledger
from decisions.calc import sealing
from decisions.models import Record
from projects.models import Project
from reports.models import IssuedReport
from schedule.services import plan
from units import money

#: So many lines are read at once.
AT_ONCE = 500


def faults(project: Project) -> list[str]:
    """Prove a project's kept figures.

    Returns: a line for each figure that is not what its sources give, naming it; empty when all is well.
    Queries: about 20 for every 500 lines, 3 for the invoices, and 6 for the dates of the plan. Writes nothing.
    """
    found = [
        f"{code}: the likely final kept is {_text(project, kept)}, budget plus movements {_text(project, moved)}"
        for code, kept, moved in ledger.unreconciled(project)
    ]
    lines = list(LineItem.objects.filter(project=project, removed_on=None).order_by("pk"))
    for first in range(0, len(lines), AT_ONCE):
        some = lines[first : first + AT_ONCE]
        found += _levelled(project, some)
        found += _originals(project, some)
        found += _by_the_rules(project, some)
    return [*found, *_invoices(project), *_dates(project), *_seals(project)]


def _text(project: Project, minor: int | None) -> str:
    return "nothing" if minor is None else money.as_text(minor, currency=project.currency)


def _levelled(project: Project, lines: Sequence[LineItem]) -> Iterator[str]:
    for package in packages(project, [line.pk for line in lines]):
        for result in package.levelling.quotes:
            kept = package.kept[int(result.key)]
            where = f"{package.line.code}, quote {kept.quote_id}"
            pairs = (
                ("given", kept.given_minor, result.quoted_minor),
                ("net", kept.net_minor, net_of(result)),
                ("levelled", kept.levelled_minor, result.levelled_minor),
            )
            for name, was, now in pairs:
                if was != now:
                    yield f"{where}: the {name} amount kept is {_text(project, was)}, by its sources {_text(project, now)}"
            if kept.complete != result.complete:
                yield f"{where}: kept as complete is {kept.complete}, by its sources {result.complete}"


def _originals(project: Project, lines: Sequence[LineItem]) -> Iterator[str]:
    rows = OriginalQuote.objects.filter(line__in=[line.pk for line in lines]).order_by("pk")
    newest = dict(rows.values_list("line_id", "levelled_minor"))
    for line in lines:
        kept, chosen = _text(project, line.original_minor), _text(project, newest.get(line.pk))
        if kept != chosen:
            yield f"{line.code}: the original amount kept is {kept}, chosen was {chosen}"


#: What the kept figures are called where one is wrong.
CALLED = {
    "likely_minor": "likely final",
    "agreed_minor": "agreed amount",
    "state": "state",
    "changes_minor": "sum of agreed changes",
    "invoiced_minor": "invoiced amount",
    "retention_minor": "retention withheld",
    "moved_minor": "budget moved by transfers",
    "currency_minor": "movement from currency",
}


def _by_the_rules(project: Project, lines: Sequence[LineItem]) -> Iterator[str]:
    """What the rules give on the date up to which quotes that ran out have left the likely finals."""
    if project.settled_on is None:
        return
    for line, name, kept, value in ledger.drifted(project, lines, on=project.settled_on):
        was, now = (kept, value) if name == "state" else (_text(project, kept), _text(project, value))
        yield f"{line.code}: the {CALLED[name]} kept is {was}, by its sources {now}"


def _invoices(project: Project) -> Iterator[str]:
    for invoice, name, kept, value in invoices.unbalanced(project):
        was, now = (money.as_text(amount, currency=invoice.currency) for amount in (kept, value))
        words = "amount to be paid" if name == "payable" else "amount paid"
        yield f"invoice {invoice}: the {words} kept is {was}, by its sources {now}"


#: What the kept dates of an activity are called where one is wrong, in the order of `plan.KEPT`.
DATES = (
    "early start", "early finish", "late start", "late finish", "float", "free float", "latest finish for the target",
    "float to the target", "mark as critical",
)  # fmt: skip


def _dates(project: Project) -> Iterator[str]:
    """What the network comes to on the day up to which progress is known."""
    for code, (kept, worked_out) in plan.drifted(project).items():
        for name, was, now in zip(DATES, kept, worked_out, strict=True):
            if was != now:
                yield f"activity {code}: the {name} kept is {was}, by the network {now}"


def _seals(project: Project) -> Iterator[str]:
    for row in Record.objects.filter(decision__project=project).select_related("decision").order_by("pk"):
        if sealing.hash_of(row.frozen) != row.sha256:
            yield f"decision {row.decision.code}, record {row.number}: the seal does not fit its content"
    for report in IssuedReport.objects.filter(project=project).order_by("pk"):
        if sealing.hash_of(report.content) != report.sha256:
            yield f"report {report.number}: the seal does not fit its content"
