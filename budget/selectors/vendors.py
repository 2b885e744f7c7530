"""Vendors with their quotes, and what is known of one quote."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.db.models import Prefetch
from django.shortcuts import get_object_or_404

from budget.models import (
    Agreement,
    LineItem,
    Movement,
    Quote,
    QuoteAttachment,
    QuoteExtra,
    QuoteItem,
    QuoteLine,
    QuoteRenewal,
    Vendor,
)
from projects.models import Project, TrailEntry

if TYPE_CHECKING:  # it asks here whether a quote is logged already
    from budget.services.quotes import QuoteDraft


@dataclass(frozen=True, slots=True)
class Step:
    """How a deed moved one line's likely final [minor units]."""

    line: LineItem
    before: int
    after: int


@dataclass(frozen=True, slots=True)
class QuotePage:
    """A quote with everything that was given and what became of it."""

    quote: Quote
    lines: tuple[QuoteLine, ...]
    items: tuple[QuoteItem, ...]
    extras: tuple[QuoteExtra, ...]
    attachments: tuple[QuoteAttachment, ...]
    agreements: tuple[Agreement, ...]
    renewals: tuple[QuoteRenewal, ...]
    replaced_by: Quote | None
    moved: tuple[Step, ...]
    trail: tuple[TrailEntry, ...]

    @property
    def preferred(self) -> bool:
        return any(kept.preferred for kept in self.lines)

    @property
    def standing(self) -> Agreement | None:
        """The acceptance that stands, if one does."""
        return next((row for row in self.agreements if not hasattr(row, "reversal")), None)


def names(project: Project) -> list[str]:
    """The vendors' names, for choosing one. Queries: 1."""
    return list(Vendor.objects.filter(project=project).values_list("name", flat=True))


def vendors(project: Project) -> list[Vendor]:
    """Every vendor with its quotes, newest first, and the lines they price. Queries: 4."""
    lines = QuoteLine.objects.select_related("line")
    quotes = Quote.objects.order_by("-quoted_on", "-pk").prefetch_related(Prefetch("lines", lines))
    return list(Vendor.objects.filter(project=project).prefetch_related(Prefetch("quotes", quotes)))


def quote_in(project: Project, quote_id: int) -> Quote:
    """One quote of this project, or 404. Queries: 1."""
    quote = get_object_or_404(Quote.objects.select_related("vendor", "replaces"), project=project, pk=quote_id)
    quote.project = project
    return quote


def quoted_line_in(project: Project, quote_id: int, line_id: int) -> QuoteLine:
    """A quote on one line of this project, or 404. Queries: 1."""
    rows = QuoteLine.objects.select_related("quote__vendor", "line")
    kept = get_object_or_404(rows, quote__project=project, quote__pk=quote_id, line__pk=line_id)
    kept.line.project = kept.quote.project = project
    return kept


def quoted_lines(quote: Quote) -> tuple[QuoteLine, ...]:
    """The lines a quote prices. Queries: 1."""
    return tuple(QuoteLine.objects.filter(quote=quote).select_related("line").order_by("line__position"))


def agreement_in(project: Project, agreement_id: int) -> Agreement:
    """One agreement of this project, or 404. Queries: 1."""
    found = get_object_or_404(Agreement.objects.select_related("vendor", "quote"), project=project, pk=agreement_id)
    found.project = project
    return found


def quote_page(project: Project, quote_id: int) -> QuotePage:
    """Read one quote's page. Queries: 11, whatever the number of lines."""
    quote = quote_in(project, quote_id)
    return QuotePage(
        quote=quote,
        lines=quoted_lines(quote),
        items=tuple(QuoteItem.objects.filter(quote=quote).select_related("scope_item").order_by("pk")),
        extras=tuple(QuoteExtra.objects.filter(quote=quote).order_by("pk")),
        attachments=tuple(QuoteAttachment.objects.filter(quote=quote).select_related("attachment").order_by("pk")),
        agreements=tuple(_agreements(quote)),
        renewals=tuple(QuoteRenewal.objects.filter(quote=quote).select_related("entered_by").order_by("-pk")),
        replaced_by=Quote.objects.filter(replaces=quote).select_related("vendor").first(),
        moved=tuple(moved_by(project, "quote", quote.pk)),
        trail=tuple(TrailEntry.objects.filter(project=project, subject="quote", subject_id=quote.pk).order_by("-pk")),
    )


def _agreements(quote: Quote):
    return (
        Agreement.objects.filter(quote=quote).select_related("reversal").prefetch_related("lines__line").order_by("-pk")
    )


def moved_by(project: Project, source: str, source_id: int) -> list[Step]:
    """How the movements that came from one row moved the likely finals, line by line. Queries: 2."""
    own = Movement.objects.filter(project=project, source=source, source_id=source_id)
    rows = Movement.objects.filter(line__in=own.values("line_id")).select_related("line").order_by("pk")
    before: dict[int, int] = {}
    found: list[Step] = []
    for row in rows:
        stood = before.get(row.line_id, row.line.budget_minor)
        before[row.line_id] = stood + row.amount_minor
        if (row.source, row.source_id) == (source, source_id):
            found.append(Step(row.line, stood, before[row.line_id]))
    return found


def twin_of(project: Project, draft: "QuoteDraft") -> Quote | None:
    """A standing quote of the same vendor with the same date, currency and amounts: most likely the same one. Queries: 2."""
    rows = Quote.objects.filter(
        project=project,
        vendor__key=" ".join(draft.vendor.split()).casefold(),
        quoted_on=draft.quoted_on,
        currency=draft.currency,
        reference=draft.reference.strip(),
        state__in=[Quote.State.OPEN, Quote.State.ACCEPTED],
    )
    given = {(row.line_id, row.amount_quoted_minor) for row in draft.lines if row.amount_quoted_minor is not None}
    for quote in rows.select_related("vendor").prefetch_related("items"):
        whole = {(item.line_id, item.amount_quoted_minor) for item in quote.items.all() if item.scope_item_id is None}
        if given and whole == given:
            return quote
    return None


@dataclass(frozen=True, slots=True)
class GivenLine:
    """What a quote gives for one line: its price [quote minor units], what it says of the scope, and the extras beside it."""

    kept: QuoteLine
    amount: int | None
    scope: tuple[QuoteItem, ...]
    extras: tuple[QuoteExtra, ...]


def as_given(page: QuotePage) -> list[GivenLine]:
    """Sort what a quote gives by its lines."""
    found = []
    for kept in page.lines:
        items = [item for item in page.items if item.line_id == kept.line_id]
        whole = next((item.amount_quoted_minor for item in items if item.scope_item_id is None), None)
        scope = tuple(item for item in items if item.scope_item_id is not None)
        found.append(GivenLine(kept, whole, scope, tuple(row for row in page.extras if row.line_id == kept.line_id)))
    return found
