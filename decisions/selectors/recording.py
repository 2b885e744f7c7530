"""What recording a decision asks for: the option's quotes, the checks it does not pass, and what would be saved."""

from dataclasses import dataclass
from datetime import date

from budget.models import Quote
from decisions.models import CheckResult, CostItem, Decision, MustPass, Option
from decisions.selectors import board as boards
from decisions.selectors import freezing, sheet
from projects.models import ApprovalLimit, Project


@dataclass(frozen=True, slots=True)
class Priced:
    """A quote of the option on one line; `net_minor` is what its vendor would bill [project minor units]."""

    item: CostItem
    quote: Quote
    net_minor: int
    levelled_minor: int
    days_left: int | None

    @property
    def line_id(self) -> int:
        return self.item.line_id


@dataclass(frozen=True, slots=True)
class Bar:
    """A check that the option fails, or that nobody has answered."""

    check: MustPass
    fails: bool
    words: str


@dataclass(frozen=True, slots=True)
class Ground:
    project: Project
    decision: Decision
    options: tuple[Option, ...]
    table: sheet.Sheet
    totals: dict[str, int]
    option: Option | None
    priced: tuple[Priced, ...]
    bars: tuple[Bar, ...]
    saved_minor: int | None

    @property
    def rows(self) -> list[tuple[Option, sheet.Column | None, int]]:
        """Each option with its head and its expected total, for choosing."""
        return [(option, self.table.column(option.key), self.totals[option.key]) for option in self.options]

    @property
    def may_be_recorded(self) -> bool:
        return len(self.options) > 1


def ground(decision: Decision, *, today: date, option_id: int | None) -> Ground:
    """Read what the record form asks for. An option that is not on the table is none. Queries: 7."""
    laid = boards.board(decision, today=today)
    content = freezing.content(laid)
    option = next((row for row in laid.options if row.pk == option_id), None)
    return Ground(
        project=decision.project,
        decision=decision,
        options=laid.options,
        table=sheet.lay_out(content),
        totals={row["key"]: row["outcome"]["expected_total_minor"] for row in content["options"]},
        option=option,
        priced=tuple(_priced(laid, item, item.quote) for item in laid.items[option.pk] if item.quote) if option else (),
        bars=tuple(_bars(laid, option)) if option else (),
        saved_minor=freezing.results(laid, option, {})["saved_minor"] if option else None,
    )


def _priced(laid: boards.Board, item: CostItem, quote: Quote) -> Priced:
    until = quote.valid_until
    left = (until - laid.today).days if until else None
    return Priced(item, quote, item.net_minor, laid.price(item), left)  # type: ignore[attr-defined]


def _bars(laid: boards.Board, option: Option) -> list[Bar]:
    found = []
    for check in laid.must_passes:
        verdict = laid.verdict(option, check)
        if verdict != CheckResult.Verdict.PASSES:
            found.append(Bar(check, verdict == CheckResult.Verdict.FAILS, str(CheckResult.Verdict(verdict).label)))
    return found


def limit_minor(project: Project, role: str) -> int:
    """Read up to how much a role may commit; 0 where it has no limit row, or none that bounds it. Queries: 1."""
    row = ApprovalLimit.objects.filter(project=project, role=role).first()
    return (row.amount_minor or 0) if row else 0
