"""What each line will have cost when it is closed, as known today, and how the whole got there.

A line has four figures that are never merged: budget, original quote, agreed, likely final. The likely final follows
from the first rule that applies (ADR 0105): closed, own forecast, agreed, quoted, otherwise the newest estimate or the
budget. Two yardsticks are measured from it and never mixed: the first budget and the original quote, both signed,
above zero for dearer.

A transfer moves budget, not cost: the total of the budgets stays, and a line whose likely final is its budget follows
it (ADR 0106). So what is drawn from a contingency leaves the contingency's likely final when it is drawn, and is not
counted twice.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from operator import attrgetter

from units.money import round_minor

UNQUOTED, QUOTED, AGREED, INVOICED, CLOSED, OWN_FORECAST = (
    "unquoted",
    "quoted",
    "agreed",
    "invoiced",
    "closed",
    "own forecast",
)
CONTINGENCY = "contingency"
#: The steps of the bridge, in the order they are shown.
CAUSES = ("quoted", "decision", "change", "invoiced", "re-forecast", "scope", "currency", "transfer")


@dataclass(frozen=True, slots=True)
class QuoteFact:
    """A quote on one line, levelled [minor units]."""

    id: str
    levelled_minor: int
    quoted_on: date
    complete: bool = True
    valid_until: date | None = None
    preferred: bool = False


@dataclass(frozen=True, slots=True)
class ChangeFact:
    """An alteration of an agreement [minor units]: "proposed", "agreed" or "declined"; the chance is of a proposed one."""

    amount_minor: int
    status: str
    chance: Decimal = Decimal(1)


@dataclass(frozen=True, slots=True)
class LineFacts:
    """What is known of a line item; every `_minor` in minor units of the project's currency."""

    id: str
    trade: str
    budget_minor: int
    kind: str = "work"
    closed: bool = False
    own_forecast_minor: int | None = None
    quotes: tuple[QuoteFact, ...] = ()
    original_quote: str | None = None
    #: the original quote's levelled amount as it was frozen; it wins over looking up `original_quote`
    original_minor: int | None = None
    estimate_minor: int | None = None
    agreed_minor: int | None = None
    changes: tuple[ChangeFact, ...] = ()
    gaps_minor: int = 0
    still_to_let_minor: int = 0
    invoiced_minor: int = 0
    #: knock-ons of decisions taken on other lines; added unless the line is closed or has an own forecast
    effects_minor: int = 0
    #: budget moved here by transfers, less budget moved away
    moved_minor: int = 0
    #: what rates have made of the agreed amount since it was agreed, as `currencies.movement_minor` gives it
    currency_minor: int = 0


@dataclass(frozen=True, slots=True)
class LineOutcome:
    """Where a line stands [minor units]; signed differences are above zero for dearer.

    `currency_minor` is the part of the likely final that exchange rates have brought since the agreement.
    """

    state: str
    likely_minor: int
    over_budget_minor: int
    against_original_minor: int | None
    currency_minor: int = 0


@dataclass(frozen=True, slots=True)
class TransferFact:
    """Budget moved from one line to another [minor units], above zero."""

    from_id: str
    to_id: str
    amount_minor: int


@dataclass(frozen=True, slots=True)
class Totals:
    """Sums over some lines [minor units]; the one against the original quotes is over lines that have one."""

    budget_minor: int
    likely_minor: int
    over_budget_minor: int
    against_original_minor: int


@dataclass(frozen=True, slots=True)
class Contingency:
    """What was set aside, moved out of it on balance, is left, and the overage that no transfer has covered yet."""

    start_minor: int
    drawn_minor: int
    left_minor: int
    uncovered_minor: int


@dataclass(frozen=True, slots=True)
class Step:
    """One cause of the bridge, and where the likely final stands after it [minor units]."""

    cause: str
    amount_minor: int
    running_minor: int


@dataclass(frozen=True, slots=True)
class Forecast:
    """A whole budget seen from one day."""

    lines: dict[str, LineOutcome]
    totals: Totals
    by_trade: dict[str, Totals]
    contingency: Contingency
    bridge: tuple[Step, ...]


class UnknownLine(ValueError):
    """A transfer names a line that is not there."""


def likely_final(line: LineFacts, *, as_of: date) -> LineOutcome:
    """Say what a line will have cost when it is closed, as known on a day.

    Args:
        line: what is known of it.
        as_of: a quote whose validity ended before this day is expired.
    Returns: state, likely final and the two differences [minor units].
    Source: our rule, ADR 0105.

    >>> line = LineFacts("1", "concrete", 90000, agreed_minor=80000, gaps_minor=1500, original_minor=85000)
    >>> likely_final(line, as_of=date(2026, 11, 25))
    LineOutcome(state='agreed', likely_minor=81500, over_budget_minor=-8500, against_original_minor=-3500, currency_minor=0)
    """
    state, likely = _by_rule(line, as_of)
    if state is not CLOSED and state is not OWN_FORECAST:
        likely += line.effects_minor
    original = original_minor(line)
    currency = line.currency_minor if state in (AGREED, INVOICED, CLOSED) else 0
    against = None if original is None else likely - original
    return LineOutcome(state, likely, likely - line.budget_minor, against, currency)


def original_minor(line: LineFacts) -> int | None:
    """Give the levelled amount that a line's savings are measured against [minor units], None without one.

    >>> original_minor(LineFacts("1", "steel", 100, original_quote="a", quotes=(QuoteFact("a", 90, date(2026, 1, 2)),)))
    90
    """
    if line.original_minor is not None or line.original_quote is None:
        return line.original_minor
    return next((quote.levelled_minor for quote in line.quotes if quote.id == line.original_quote), None)


def _by_rule(line: LineFacts, as_of: date) -> tuple[str, int]:
    if line.closed:
        return CLOSED, line.invoiced_minor
    if line.own_forecast_minor is not None:
        return OWN_FORECAST, line.own_forecast_minor
    if line.kind == CONTINGENCY:
        return UNQUOTED, line.budget_minor + line.moved_minor
    if line.agreed_minor is not None:
        return (INVOICED if line.invoiced_minor > 0 else AGREED), _agreed_likely(line, line.agreed_minor)
    quoted = _quoted_likely(line.quotes, as_of) if line.quotes else None
    if quoted is not None:
        return QUOTED, quoted
    estimate = line.estimate_minor
    return UNQUOTED, line.budget_minor + line.moved_minor if estimate is None else estimate


def _agreed_likely(line: LineFacts, agreed: int) -> int:
    promised = agreed + expected_changes(line.changes) + line.gaps_minor + line.currency_minor
    return max(promised, line.invoiced_minor) + line.still_to_let_minor


def expected_changes(changes: Iterable[ChangeFact]) -> int:
    """Add up changes: agreed ones in full, proposed ones by their chance, declined ones not at all.

    Returns: [minor units], each proposed change rounded on its own, so that the rows shown add up.
    Source: our rule, ADR 0105.

    >>> expected_changes([ChangeFact(500, "agreed"), ChangeFact(101, "proposed", Decimal("0.5"))])
    551
    """
    return sum(_expected(change) for change in changes)


def _expected(change: ChangeFact) -> int:
    if change.status == "agreed":
        return change.amount_minor
    return round_minor(change.amount_minor * Fraction(change.chance)) if change.status == "proposed" else 0


def _quoted_likely(quotes: Sequence[QuoteFact], as_of: date) -> int | None:
    """The preferred quote, else the middle complete and unexpired one, of an even number the lower middle."""
    for quote in quotes:
        if quote.preferred:
            return quote.levelled_minor
    standing = sorted(
        quote.levelled_minor
        for quote in quotes
        if quote.complete and (quote.valid_until is None or quote.valid_until >= as_of)
    )
    return standing[(len(standing) - 1) // 2] if standing else None


def forecast(lines: Sequence[LineFacts], transfers: Iterable[TransferFact] = (), *, as_of: date) -> Forecast:
    """Work out a whole budget: every line, the totals, the contingency and the bridge.

    Args:
        lines: each `id` once; `moved_minor` is set from the transfers.
        transfers: budget moved between two of the lines.
        as_of: the day it is seen from.
    Returns: lines and trades in the order given [minor units].
    Raises: UnknownLine.
    Source: our rule, ADR 0105 and 0106.

    >>> set_aside = LineFacts("aside", "general", 1000, kind="contingency")
    >>> slab = LineFacts("slab", "concrete", 5000, agreed_minor=5300)
    >>> seen = forecast([set_aside, slab], [TransferFact("aside", "slab", 200)], as_of=date(2026, 11, 25))
    >>> seen.totals.likely_minor, seen.contingency
    (6100, Contingency(start_minor=1000, drawn_minor=200, left_minor=800, uncovered_minor=100))
    """
    moved = _moved(lines, transfers)
    placed = [replace(line, moved_minor=moved[line.id]) if moved[line.id] else line for line in lines]
    outcomes = {line.id: likely_final(line, as_of=as_of) for line in placed}
    return Forecast(
        lines=outcomes,
        totals=_totals(placed, outcomes),
        by_trade={trade: _totals(rows, outcomes) for trade, rows in _by_trade(placed).items()},
        contingency=_contingency(placed, outcomes),
        bridge=bridge(placed, outcomes),
    )


def _moved(lines: Iterable[LineFacts], transfers: Iterable[TransferFact]) -> dict[str, int]:
    moved = {line.id: 0 for line in lines}
    for transfer in transfers:
        for end, amount in ((transfer.from_id, -transfer.amount_minor), (transfer.to_id, transfer.amount_minor)):
            if end not in moved:
                raise UnknownLine(end)
            moved[end] += amount
    return moved


def _by_trade(lines: Iterable[LineFacts]) -> dict[str, list[LineFacts]]:
    found: dict[str, list[LineFacts]] = defaultdict(list)
    for line in lines:
        found[line.trade].append(line)
    return found


def _totals(lines: Sequence[LineFacts], outcomes: Mapping[str, LineOutcome]) -> Totals:
    rows = [outcomes[line.id] for line in lines]
    return Totals(
        budget_minor=sum(map(attrgetter("budget_minor"), lines)),
        likely_minor=sum(map(attrgetter("likely_minor"), rows)),
        over_budget_minor=sum(map(attrgetter("over_budget_minor"), rows)),
        against_original_minor=sum(row.against_original_minor or 0 for row in rows),
    )


def _contingency(lines: Sequence[LineFacts], outcomes: Mapping[str, LineOutcome]) -> Contingency:
    aside = [line for line in lines if line.kind == CONTINGENCY]
    start, drawn = sum(line.budget_minor for line in aside), -sum(line.moved_minor for line in aside)
    return Contingency(
        start_minor=start,
        drawn_minor=drawn,
        left_minor=start - drawn,
        uncovered_minor=sum(
            max(0, outcomes[line.id].over_budget_minor - line.moved_minor) for line in lines if line.kind != CONTINGENCY
        ),
    )


def bridge(lines: Sequence[LineFacts], outcomes: Mapping[str, LineOutcome]) -> tuple[Step, ...]:
    """Explain how the first budgets became the likely finals, cause by cause.

    Args:
        lines: as in `forecast`, `moved_minor` set.
        outcomes: {line id: as `likely_final` returns it}.
    Returns: one step per entry of `CAUSES`, in that order; first budget plus all steps is the likely final, to the
        minor unit. The causes are read from the figures as they stand; the ledger of a project knows them by date.
    Source: our rule, ADR 0106.

    >>> slab = LineFacts("slab", "concrete", 5000, agreed_minor=5300, gaps_minor=50, original_minor=5600)
    >>> steps = bridge([slab], {"slab": likely_final(slab, as_of=date(2026, 11, 25))})
    >>> [(step.cause, step.amount_minor) for step in steps if step.amount_minor]
    [('quoted', 600), ('decision', -300), ('scope', 50)]
    """
    by_cause: dict[str, int] = defaultdict(int)
    for line in lines:
        for cause, amount in _steps(line, outcomes[line.id]):
            by_cause[cause] += amount
    running, steps = sum(line.budget_minor for line in lines), []
    for cause in CAUSES:
        running += by_cause[cause]
        steps.append(Step(cause, by_cause[cause], running))
    return tuple(steps)


#: The cause that bears whatever the other steps of a line leave unexplained.
_LAST_CAUSE = {
    UNQUOTED: "re-forecast",
    QUOTED: "quoted",
    AGREED: "invoiced",
    INVOICED: "invoiced",
    CLOSED: "invoiced",
    OWN_FORECAST: "re-forecast",
}


def _steps(line: LineFacts, outcome: LineOutcome) -> list[tuple[str, int]]:
    """The causes behind one line's difference from its budget; they add up to it."""
    original = original_minor(line)
    steps = [("quoted", original - line.budget_minor)] if original is not None and outcome.state != UNQUOTED else []
    if line.agreed_minor is not None and line.kind != CONTINGENCY:
        steps += [
            ("decision", line.agreed_minor - (line.budget_minor if original is None else original)),
            ("change", expected_changes(line.changes)),
            ("scope", line.gaps_minor + line.still_to_let_minor),
        ]
    steps.append(("currency", outcome.currency_minor))
    if outcome.state not in (CLOSED, OWN_FORECAST):
        steps.append(("decision", line.effects_minor))
    if line.kind == CONTINGENCY or (outcome.state == UNQUOTED and line.estimate_minor is None):
        steps.append(("transfer", line.moved_minor))
    explained = sum(amount for _, amount in steps)
    return [*steps, (_LAST_CAUSE[outcome.state], outcome.over_budget_minor - explained)]
