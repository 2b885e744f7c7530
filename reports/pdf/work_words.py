"""The opening, what may not be covered yet, and what was overruled, as parts of the owners' paper.

Every sentence is the page's own, from its templates.
"""

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from django.utils.translation import gettext as _

from projects import display
from reports.pdf.pieces import Build, Part, cell, table, text

Said = Callable[..., str]
Page = Mapping[str, Any]


def opening(page: Page, build: Build, said: Said) -> Iterator[Part]:
    """When it opens, against the target and the plan, and what was said of the work that decides it."""
    if not page["opening"]:
        return
    yield text(said("_opening_sentence", page=page, holder=build))
    if why := page["opening"]["why"]:
        rows = [
            [cell(row["activity"]), cell(display.day(row["on"], build.locale, short=True)), cell(row["reason"])]
            for row in why
        ]
        head = [_("Work that decides the day"), _("Told on"), _("What was said")]
        yield table(_("What was said of the work that decides the day"), head, rows)
    if page["opening"]["absorbed"]:
        yield text(said("_absorbed", page=page), soft=True)
    if page["orders"]:
        yield text(_("Deliveries that are late, or about to be:"), soft=True)
    for row in page["orders"]:
        yield text(f"{row['item']}: {said('_order_why', row=row, holder=build)}")


def covering(page: Page, build: Build, said: Said) -> Iterator[Part]:
    """Work of the next weeks that a hold point stops."""
    for row in page["covering"]:
        yield text(f"{row['work']}: {said('_covering_why', row=row, holder=build)}")


def gone_over(page: Page, build: Build, said: Said) -> Iterator[Part]:
    """Hold points that the lead overruled, why, and what was missing."""
    for row in page["gone_over"]:
        yield text(f"{row['hold']} → {row['work']}: {said('_gone_over_why', row=row, holder=build)}")
        if row["missing"]:
            yield text(_("Missing then: %s.") % "; ".join(row["missing"]), soft=True)
