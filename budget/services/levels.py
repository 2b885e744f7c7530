"""Keep the comparable figures of quotes beside them, and fix a line's original quote when its first complete one lands."""

from collections.abc import Collection, Iterable

from budget.models import LineItem, OriginalQuote, QuoteLine
from budget.selectors.packages import Package, net_on_line, packages
from budget.services.bounds import amount_within_bounds
from budget.services.ledger import Deed
from projects.models import Project

#: What is kept beside a quote on a line, in the order it is worked out.
FIGURES = ("given_minor", "net_minor", "levelled_minor", "complete")


def relevel(project: Project, line_ids: Collection[int], deed: Deed) -> list[Package]:
    """Work out the levelled figures of every quote on some lines and keep them.

    Writes QuoteLine figures, and an OriginalQuote row for a line that has none yet and now has a complete quote.
    Call it inside the transaction of the deed, before `ledger.settle`. Safe to repeat.
    Raises: Refused for a figure above every build.
    """
    found = packages(project, line_ids)
    QuoteLine.objects.bulk_update(
        [row for package in found for row in _refreshed(package, project.currency)],
        FIGURES,
        batch_size=200,
    )
    for package in found:
        if package.line.original_minor is None:
            _first_original(package, deed)
    return found


def _refreshed(package: Package, currency: str) -> Iterable[QuoteLine]:
    for result in package.levelling.quotes:
        kept = package.kept[int(result.key)]
        net = net_on_line(package, kept.quote_id)
        figures = (result.quoted_minor, net, result.levelled_minor, result.complete)
        for figure in figures[:3]:  # a rate or a tax can lift an amount above what its column holds
            amount_within_bounds(figure, currency, field="amount", negative=True)
        if tuple(getattr(kept, name) for name in FIGURES) != figures:
            for name, value in zip(FIGURES, figures, strict=True):
                setattr(kept, name, value)
            yield kept


def _first_original(package: Package, deed: Deed) -> None:
    complete = [row for row in package.kept.values() if row.complete]
    if complete:
        set_original(package.line, complete[0], deed, reason="first complete quote")


def set_original(line: LineItem, kept: QuoteLine, deed: Deed, *, reason: str) -> OriginalQuote:
    """Write which quote a line's savings are measured against, at its levelled amount of today."""
    LineItem.objects.filter(pk=line.pk).update(original_minor=kept.levelled_minor)
    line.original_minor = kept.levelled_minor
    return OriginalQuote.objects.create(
        line=line,
        quote_id=kept.quote_id,
        levelled_minor=kept.levelled_minor,
        set_on=deed.on,
        set_at=deed.at,
        set_by=deed.by,
        reason=reason,
    )
