"""Why a likely final is what it is: the rule that applied and the amounts it was put together from.

`forecast.likely_final` says how much; this says how it came about, in parts that add up to the same figure to the
minor unit. The order of the rules is the one of ADR 0105.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from budget.calc import forecast
from budget.calc.forecast import LineFacts, QuoteFact

CLOSED, OWN, ASIDE, AGREED, BEYOND, PREFERRED, MIDDLE, ESTIMATE, BUDGET = (
    "closed", "own forecast", "set aside", "agreed", "invoiced beyond", "preferred", "middle", "estimate", "budget",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Part:
    """One amount that goes into a likely final [minor units]."""

    kind: str
    amount_minor: int


@dataclass(frozen=True, slots=True)
class Reason:
    """The rule that applied, its parts, and the quote it rests on, if any.

    `among` is the number of complete and unexpired quotes that the middle one was taken from.
    """

    rule: str
    parts: tuple[Part, ...]
    quote_id: str | None = None
    among: int = 0


def why(line: LineFacts, *, as_of: date) -> Reason:
    """Say by which rule a line's likely final was found, and from what.

    Args:
        line: what is known of it.
        as_of: a quote whose validity ended before this day is expired.
    Returns: parts [minor units] that add up to `forecast.likely_final(line, as_of=as_of).likely_minor`; parts of
        nothing are left out, except the first.
    Source: our rule, ADR 0105.

    >>> line = LineFacts("1", "concrete", 90000, agreed_minor=80000, gaps_minor=1500)
    >>> why(line, as_of=date(2026, 11, 25)).parts
    (Part(kind='agreed', amount_minor=80000), Part(kind='gaps', amount_minor=1500))
    """
    if line.closed:
        return Reason(CLOSED, (Part("invoiced", line.invoiced_minor),))
    if line.own_forecast_minor is not None:
        return Reason(OWN, (Part("own forecast", line.own_forecast_minor),))
    reason = _by_price(line, as_of)
    return Reason(reason.rule, _worth(reason.parts, Part("effects", line.effects_minor)), reason.quote_id, reason.among)


def _worth(parts: Iterable[Part], *further: Part) -> tuple[Part, ...]:
    first, *rest = (*parts, *further)
    return (first, *(part for part in rest if part.amount_minor))


def _by_price(line: LineFacts, as_of: date) -> Reason:
    budget = (Part("budget", line.budget_minor), Part("moved", line.moved_minor))
    if line.kind == forecast.CONTINGENCY:
        return Reason(ASIDE, budget)
    if line.agreed_minor is not None:
        return _agreed(line, line.agreed_minor)
    quote, among = _quote(line, as_of)
    if quote is not None:
        return Reason(MIDDLE if among else PREFERRED, (Part("levelled", quote.levelled_minor),), quote.id, among)
    if line.estimate_minor is not None:
        return Reason(ESTIMATE, (Part("estimate", line.estimate_minor),))
    return Reason(BUDGET, budget)


def _agreed(line: LineFacts, agreed: int) -> Reason:
    to_let = Part("to let", line.still_to_let_minor)
    settled = [change for change in line.changes if change.status == "agreed"]
    sure = forecast.expected_changes(settled)
    likely = forecast.expected_changes(line.changes) - sure
    if line.invoiced_minor > agreed + sure + likely + line.gaps_minor + line.currency_minor:
        return Reason(BEYOND, (Part("invoiced", line.invoiced_minor), to_let))
    beside = (Part("gaps", line.gaps_minor), Part("currency", line.currency_minor), to_let)
    return Reason(AGREED, (Part("agreed", agreed), Part("changes", sure), Part("likely changes", likely), *beside))


def _quote(line: LineFacts, as_of: date) -> tuple[QuoteFact | None, int]:
    """The quote the likely final rests on, and among how many it is the middle one (0 for a preferred one)."""
    for quote in line.quotes:
        if quote.preferred:
            return quote, 0
    standing = [q for q in line.quotes if q.complete and (q.valid_until is None or q.valid_until >= as_of)]
    standing.sort(key=lambda quote: quote.levelled_minor)
    return (standing[(len(standing) - 1) // 2], len(standing)) if standing else (None, 0)
