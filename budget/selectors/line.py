"""Everything that one line's page tells: its figures, how the likely final came about, and what it rests on."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from budget.calc import reasons
from budget.models import (
    AgreementLine,
    Estimate,
    KnockOn,
    LineItem,
    Movement,
    OriginalQuote,
    OwnForecast,
    Quote,
    QuoteLine,
    ScopeItem,
)
from budget.selectors import facts
from projects.models import Project


@dataclass(frozen=True, slots=True)
class Moved:
    """One movement, and where the likely final stood after it [minor units]."""

    row: Movement
    running: int


@dataclass(frozen=True, slots=True)
class LinePage:
    """A line with all that is known of it; lists from the newest to the oldest, movements in the order of events."""

    line: LineItem
    over_budget: int
    against_original: int | None
    reason: reasons.Reason | None
    reason_vendor: str
    movements: tuple[Moved, ...]
    quotes: tuple[QuoteLine, ...]
    originals: tuple[OriginalQuote, ...]
    agreed: tuple[AgreementLine, ...]
    estimates: tuple[Estimate, ...]
    own_forecasts: tuple[OwnForecast, ...]
    knock_ons: tuple[KnockOn, ...]
    scope: tuple[ScopeItem, ...]

    @property
    def original(self) -> OriginalQuote | None:
        return self.originals[0] if self.originals else None

    @property
    def own_forecast(self) -> OwnForecast | None:
        """The own forecast that stands, if one does."""
        newest = self.own_forecasts[0] if self.own_forecasts else None
        return newest if newest and newest.amount_minor is not None else None


def line_in(project: Project, line_id: int, *, removed: bool = False) -> LineItem:
    """One line of this project, or 404; a removed one only when asked for. Queries: 1."""
    rows = LineItem.objects.select_related("trade").filter(project=project)
    line = get_object_or_404(rows if removed else rows.filter(removed_on=None), pk=line_id)
    line.project = project
    return line


def line_page(project: Project, line_id: int, *, today: date) -> LinePage:
    """Read one line's page; a removed line is shown as it stood. Queries: 18, whatever the number of quotes."""
    line = line_in(project, line_id, removed=True)
    quotes = tuple(_quotes(line))
    fact = next(iter(facts.line_facts(project, [line.pk])), None)
    reason = reasons.why(fact, as_of=today) if fact else None
    return LinePage(
        line=line,
        over_budget=line.likely_minor - line.budget_minor,
        against_original=None if line.original_minor is None else line.likely_minor - line.original_minor,
        reason=reason,
        reason_vendor=_vendor(quotes, reason),
        movements=_movements(line),
        quotes=quotes,
        originals=tuple(_newest(OriginalQuote.objects.filter(line=line).select_related("quote__vendor"), "set_by")),
        agreed=tuple(_agreed(line)),
        estimates=tuple(_newest(Estimate.objects.filter(line=line, reverses=None, reversal=None), "entered_by")),
        own_forecasts=tuple(_newest(OwnForecast.objects.filter(line=line), "entered_by")),
        knock_ons=tuple(_newest(KnockOn.objects.filter(line=line), "entered_by")),
        scope=tuple(ScopeItem.objects.filter(line=line, removed_at=None)),
    )


def _newest(rows: QuerySet, person: str) -> QuerySet:
    return rows.select_related(person).order_by("-pk")


def _quotes(line: LineItem) -> QuerySet:
    standing = [Quote.State.OPEN, Quote.State.ACCEPTED, Quote.State.DECLINED]
    rows = QuoteLine.objects.filter(line=line, quote__state__in=standing).select_related("quote__vendor")
    return rows.order_by("-complete", "levelled_minor", "pk")


def _vendor(quotes: Sequence[QuoteLine], reason: reasons.Reason | None) -> str:
    named = (str(kept.quote.vendor) for kept in quotes if reason and str(kept.quote_id) == reason.quote_id)
    return next(named, "")


def _agreed(line: LineItem) -> QuerySet:
    rows = AgreementLine.objects.filter(line=line).select_related(
        "agreement__vendor", "agreement__quote", "agreement__reversal"
    )
    return rows.prefetch_related("gaps").order_by("-pk")


def _movements(line: LineItem) -> tuple[Moved, ...]:
    running, found = line.budget_minor, []
    for row in Movement.objects.filter(line=line).select_related("recorded_by").order_by("pk"):
        running += row.amount_minor
        found.append(Moved(row, running))
    return tuple(found)


def scope_of(line: LineItem) -> list[tuple[str, int | None]]:
    """The scope list of a line as (name, own plug). Queries: 1."""
    return list(ScopeItem.objects.filter(line=line, removed_at=None).values_list("name", "plug_minor"))


def scope_mark(line: LineItem) -> str:
    """A mark of the scope list as it stands, which changes when the list does. Queries: 1."""
    return hashlib.sha256(repr(scope_of(line)).encode()).hexdigest()


def has_own_forecast(line: LineItem) -> bool:
    """Tell whether an own forecast stands. Queries: 1."""
    newest = OwnForecast.objects.filter(line=line).order_by("-pk").first()
    return newest is not None and newest.amount_minor is not None
