"""Keep the comparable figures of quotes beside them, and fix a line's original quote when its first complete one lands."""

from collections.abc import Collection, Iterable

from budget.models import LineItem, OriginalQuote, QuoteLine
from budget.selectors.packages import Package, net_of, packages
from budget.services.bounds import amount_within_bounds
from budget.services.ledger import Deed
from projects import bulk
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
    bulk.save_columns((row for package in found for row in _refreshed(package, project.currency)), FIGURES)
    firsts = [first for package in found if (first := _first_complete(package))]
    OriginalQuote.objects.bulk_create(_original(*first, deed, "first complete quote") for first in firsts)
    bulk.save_columns((line for line, _kept in firsts), ["original_minor"])
    return found


def _refreshed(package: Package, currency: str) -> Iterable[QuoteLine]:
    for result in package.levelling.quotes:
        kept = package.kept[int(result.key)]
        net = net_of(result)
        figures = (result.quoted_minor, net, result.levelled_minor, result.complete)
        for figure in figures[:3]:  # a rate or a tax can lift an amount above what its column holds
            amount_within_bounds(figure, currency, field="amount", negative=True)
        if tuple(getattr(kept, name) for name in FIGURES) != figures:
            for name, value in zip(FIGURES, figures, strict=True):
                setattr(kept, name, value)
            yield kept


def _first_complete(package: Package) -> tuple[LineItem, QuoteLine] | None:
    """The quote that becomes the yardstick of a line that has none yet."""
    if package.line.original_minor is not None:
        return None
    return next(((package.line, row) for row in package.kept.values() if row.complete), None)


def _original(line: LineItem, kept: QuoteLine, deed: Deed, reason: str) -> OriginalQuote:
    line.original_minor = kept.levelled_minor
    return OriginalQuote(
        line=line,
        quote_id=kept.quote_id,
        levelled_minor=kept.levelled_minor,
        set_on=deed.on,
        set_at=deed.at,
        set_by=deed.by,
        reason=reason,
    )


def set_original(line: LineItem, kept: QuoteLine, deed: Deed, *, reason: str) -> OriginalQuote:
    """Write which quote a line's savings are measured against, at its levelled amount of today."""
    row = _original(line, kept, deed, reason)
    row.save()
    bulk.save_columns([line], ["original_minor"])
    return row
