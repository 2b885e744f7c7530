"""Taking back what was logged by a slip of the hand, as if it had never counted."""

from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from budget.models import Cause, LineItem, OriginalQuote, Quote, QuoteLine
from budget.services import quotes
from budget.services.ledger import Deed, lock
from projects import trail
from projects.faults import Refused
from projects.models import User


@transaction.atomic
def take_back_log(quote: Quote, *, by: User, now: datetime, today: date) -> None:
    """Take a quote out again that should not have been logged; it stays readable.

    Unlike a vendor's withdrawal, savings are no longer measured against it: where it had become the original quote of a
    line, the first complete quote that is left takes its place, or none. Writes movements `quoted`, OriginalQuote rows
    and a trail row. Refused for a quote that replaced another, and for one that is not open.
    """
    project = lock(quote.project)
    quote = Quote.objects.select_related("vendor").select_for_update(of=("self",)).get(pk=quote.pk)
    if quote.state != Quote.State.OPEN:
        raise Refused(
            _("Only an open quote can be taken back; this one is %(state)s.") % {"state": quote.get_state_display()}
        )
    if quote.replaces_id is not None:
        raise Refused(_("This quote replaced another one; log the right figures as a quote that replaces it."))
    deed = Deed(by, now, today, Cause.QUOTED, _("logged by mistake"), "quote", quote.pk)
    measured = _measured_against(quote)
    _lift_original(measured, deed)
    quotes.take_out(project, [quote], deed)
    trail.note(
        project, by=by, at=now, verb="took back", subject="quote", subject_id=quote.pk,
        summary=_("Took back the quote of %s, logged by mistake") % quote.vendor,
    )  # fmt: skip


def _measured_against(quote: Quote) -> list[LineItem]:
    """The lines whose standing original quote this is."""
    lines = LineItem.objects.filter(pk__in=QuoteLine.objects.filter(quote=quote).values("line_id"))
    newest = dict(OriginalQuote.objects.filter(line__in=lines).order_by("pk").values_list("line_id", "quote_id"))
    return [line for line in lines if newest.get(line.pk) == quote.pk]


def _lift_original(lines: list[LineItem], deed: Deed) -> None:
    """Leave the lines without an original quote; levelling them anew finds the first complete one that is left."""
    LineItem.objects.filter(pk__in=[line.pk for line in lines]).update(original_minor=None)
    OriginalQuote.objects.bulk_create(
        OriginalQuote(
            line=line, quote=None, levelled_minor=None, set_on=deed.on, set_at=deed.at, set_by=deed.by, reason=deed.note[:300]
        )
        for line in lines
    )  # fmt: skip
