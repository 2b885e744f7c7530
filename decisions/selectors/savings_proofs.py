"""Whether the savings book explains every line: from its original quote to its likely final, to the cent."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Sum
from django.utils.translation import gettext as _

from budget.calc import forecast
from budget.models import AgreementGap, AgreementLine, Change, LineItem, LineState
from decisions.calc import savings_book
from decisions.calc.savings_book import LineFigures, Proof
from decisions.selectors import book_entries
from decisions.selectors.book_entries import Book
from projects.models import Project

#: A line whose likely final is the sum of what was promised on it; elsewhere it is what was billed, or an own figure.
AS_PROMISED = (LineState.AGREED, LineState.INVOICED)


@dataclass(frozen=True, slots=True)
class LineProof:
    """Whether the book explains one line, or the lines of one decision, to the cent; `hint` says why it does not."""

    proof: Proof
    lines: tuple[LineItem, ...]
    hint: str

    @property
    def holds(self) -> bool:
        return self.proof.unexplained_minor == 0

    @property
    def can_enter(self) -> bool:
        """Something was saved on a line that is let, and an own entry may name it."""
        (line, *more) = self.lines
        return not more and line.state in AS_PROMISED and self.proof.unexplained_minor > 0

    @property
    def less_changes_minor(self) -> int:
        return -self.proof.likely_changes_minor


def proofs(project: Project, read: Book | None = None) -> tuple[LineProof, ...]:
    """Test every line that was let and has an original quote, and those that a decision in force settled.

    Queries: 3, and those of `book_entries.read` where the book is not given.
    """
    held = read or book_entries.read(project)
    figures = line_figures(project, held)
    found = savings_book.prove(figures, [entry.claim for entry in held.standing])
    return tuple(_line_proof(proof, held) for proof in found)


def unproved(project: Project) -> list[tuple[str, int]]:
    """Prove the book from its rows.

    Returns: (line codes, what is left unexplained [project minor units]) of each line that the book does not explain;
    empty when all is well.
    """
    return [
        (" ".join(line.code for line in row.lines), row.proof.unexplained_minor)
        for row in proofs(project)
        if not row.holds
    ]


def line_figures(project: Project, held: Book) -> list[LineFigures]:
    """What the proof needs to know of each line. Queries: 3."""
    settled = {line for entry in held.standing if entry.claim.shares for line in entry.lines}
    rows = [
        line
        for line in held.lines.values()
        if line.original_minor is not None and (line.agreed_minor is not None or line.pk in settled)
    ]
    gaps, to_let = _gaps(project), _to_let(project)
    changes, plugs = _proposed(project)
    effects: dict[int, int] = defaultdict(int)
    for entry in held.entries:
        if entry.kind == savings_book.EFFECT:
            effects[entry.lines[0]] -= entry.amount_minor
    found = []
    for line in rows:
        let = line.agreed_minor is not None
        price = (
            (line.agreed_minor or 0) + gaps.get(line.pk, 0) + to_let.get(line.pk, 0)
            if let
            else line.likely_minor - effects[line.pk]
        )
        counts = line.state in AS_PROMISED
        found.append(
            LineFigures(
                line.pk, line.original_minor or 0, price, line.likely_minor,
                likely_changes_minor=forecast.expected_changes(changes.get(line.pk, ())) if counts else 0,
                plugs_minor=plugs.get(line.pk, 0) if counts else 0,
            )
        )  # fmt: skip
    return found


def _gaps(project: Project) -> dict[int, int]:
    rows = AgreementGap.objects.filter(
        agreement_line__agreement__project=project, agreement_line__agreement__reversal=None
    )
    return dict(rows.values_list("agreement_line__line_id").annotate(total=Sum("amount_minor")).order_by())


def _to_let(project: Project) -> dict[int, int]:
    """The newest agreement of a line knows what is left to let."""
    rows = AgreementLine.objects.filter(agreement__project=project, agreement__reversal=None).order_by("pk")
    return dict(rows.values_list("line_id", "still_to_let_minor"))


def _proposed(project: Project) -> tuple[dict[int, list[forecast.ChangeFact]], dict[int, int]]:
    """Proposed changes of each line, and the gaps they have taken the place of."""
    changes: dict[int, list[forecast.ChangeFact]] = defaultdict(list)
    plugs: dict[int, int] = defaultdict(int)
    rows = Change.objects.filter(project=project, state=Change.State.PROPOSED)
    for row in rows.select_related("gap__agreement_line__agreement__reversal"):
        changes[row.line_id].append(forecast.ChangeFact(row.amount_minor, row.state, row.chance))
        plugs[row.line_id] += book_entries.carried(row) or 0
    return changes, plugs


def _line_proof(proof: Proof, held: Book) -> LineProof:
    lines = tuple(held.lines[key] for key in proof.lines)
    return LineProof(proof, lines, _hint(proof, lines) if proof.unexplained_minor else "")


def _hint(proof: Proof, lines: Sequence[LineItem]) -> str:
    """Why a line is not explained, as far as its state tells."""
    states = {line.state for line in lines}
    if LineState.OWN_FORECAST in states:
        return _("an own forecast stands over what was promised")
    if proof.unexplained_minor > 0:
        closed = LineState.CLOSED in states
        return _("closed for less than was promised") if closed else _("saved, and not in the book yet")
    if any(line.invoiced_minor > line.likely_minor - line.currency_minor for line in lines):
        return _("invoiced over what was promised")
    return _("dearer than its original quote, or claimed more than was saved")
