"""What a change must be: on a line that is let, worth something, paid from where it may be, and in place of at most one thing."""

from decimal import Decimal
from typing import Any

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from budget.models import Agreement, AgreementGap, AgreementLine, Change, InvoiceLine, KnockOn, LineItem
from budget.selectors.billing import COUNTED
from budget.selectors.facts import IN_FORCE
from budget.services.bounds import amount_within_bounds, share_within_bounds
from projects import display, limits
from projects.access import MAY
from projects.faults import Refused
from projects.models import Project

#: Longer than any build may be moved by one thing [days].
LONGEST_DAYS = 3_650


def line_of(project: Project, line_id: int) -> LineItem:
    """A line that may be changed: on the budget, open and let. Raises: Refused, with the mend."""
    line = LineItem.objects.filter(project=project, removed_on=None, pk=line_id).first()
    if line is None:
        raise Refused(_("There is no such line on the budget; choose one that is."), field="line")
    if line.closed_on is not None:
        raise Refused(_("%s is closed; open it again on its own page first.") % line, field="line")
    if not AgreementLine.objects.filter(line=line, agreement__reversal=None).exists():
        raise Refused(
            _(
                "%s is not let yet, so there is nothing to change: log the quote and accept it, enter an estimate of the "
                "line, or add a line for new work."
            )
            % line,
            field="line",
        )
    return line


def must_be_worth(project: Project, *, amount_minor: int, is_ceiling: bool, days: int, chance: Decimal) -> None:
    """Hold the figures of a change to their ranges. Raises: Refused, naming the field."""
    amount_within_bounds(amount_minor, project.currency, field="amount", negative=True)
    share_within_bounds(chance, field="chance", message=_("A chance lies between 0 and 100 %."), most=1)
    if abs(days) > LONGEST_DAYS:
        raise Refused(_("Days lie between \u2212%(most)d and %(most)d.") % {"most": LONGEST_DAYS}, field="days")
    if not amount_minor and not days:
        raise Refused(
            _("Give what it costs or spares, or the days it takes; a change of nothing is no change."), field="amount"
        )
    if is_ceiling and amount_minor <= 0:
        raise Refused(_("A ceiling is the most it may cost: an amount above zero."), field="amount")


def must_be_called_right(reason: str, paid_from: str) -> None:
    """Hold the cause and the purse to their lists, and keep a wish away from the contingency. Raises: Refused."""
    if reason not in Change.Reason.values:
        raise Refused(_("Say why it is needed; choose one from the list."), field="reason")
    if paid_from not in Change.Source.values:
        raise Refused(_("Say where the money comes from; choose one from the list."), field="paid_from")
    if reason == Change.Reason.WISH and paid_from == Change.Source.CONTINGENCY:
        raise Refused(
            _(
                "An owner\u2019s wish is never paid from the contingency, which is kept for what nobody chose; choose an "
                "owner\u2019s addition."
            ),
            field="paid_from",
        )


def usual_purse(reason: str, amount_minor: int) -> str:
    """Where the money comes from unless somebody says otherwise: a wish is paid for by an owner, a need by the contingency."""
    if amount_minor < 0:
        return Change.Source.CREDIT
    return Change.Source.OWNER if reason == Change.Reason.WISH else Change.Source.CONTINGENCY


def must_be_free(line: LineItem, *, gap_id: int | None, knock_on_id: int | None, beside: int | None = None) -> None:
    """Hold what a change stands in place of to its line, and to one change. Raises: Refused.

    Args:
        beside: a change to leave out of the look, because it is the one that asks.
    """
    if gap_id is not None and knock_on_id is not None:
        raise Refused(_("A change stands in place of an open piece or of an effect, not of both."), field="stands_for")
    if gap_id is not None:
        _must_be_there(_gaps(line).filter(pk=gap_id), _("This open piece is not part of the line\u2019s agreement."))
    if knock_on_id is not None:
        _must_be_there(_effects(line).filter(pk=knock_on_id), _("This effect of a decision does not rest on the line."))
    _must_be_taken_once(gap_id, knock_on_id, beside)


def _gaps(line: LineItem) -> QuerySet:
    return AgreementGap.objects.filter(agreement_line__line=line, agreement_line__agreement__reversal=None)


def _effects(line: LineItem) -> QuerySet:
    return KnockOn.objects.filter(line=line, reverses=None, reversal=None)


def _must_be_there(rows: QuerySet, message: str) -> None:
    if not rows.exists():
        raise Refused(message, field="stands_for")


def _must_be_taken_once(gap_id: int | None, knock_on_id: int | None, beside: int | None) -> None:
    """An unclear piece of scope is carried as a gap or as a change, and as one change only."""
    named = {"gap_id": gap_id} if gap_id is not None else {"knock_on_id": knock_on_id}
    if gap_id is None and knock_on_id is None:
        return
    others = Change.objects.filter(state__in=IN_FORCE, **named)
    other = next((row for row in others if row.pk != beside), None)
    if other is not None:
        raise Refused(
            _("%s prices this already; price that one anew, or withdraw it first.") % other, field="stands_for"
        )


def within_limit(project: Project, role: str, amount_minor: int) -> bool:
    """Tell whether a role may agree to a change; one that costs nothing needs no limit."""
    return role in MAY["commit"] and limits.allows(project, role, max(0, amount_minor))


def must_be_within(project: Project, role: str, amount_minor: int) -> None:
    """Raises: Refused when the role may not agree to this much."""
    if not within_limit(project, role, amount_minor):
        raise Refused(_above(project, role))


def _above(project: Project, role: str) -> str:
    limit = limits.most(project, role) if role in MAY["commit"] else 0
    if not limit:
        return _("Your role agrees to no changes that cost money; the change waits for somebody who may.")
    return _("This is above your limit of %(limit)s; the change waits for somebody who may agree to it.") % {
        "limit": display.money(limit, project, brief=True)
    }


def must_not_be_billed(change: Change) -> None:
    """What was billed on the strength of an agreed change rests on it. Raises: Refused."""
    rows = InvoiceLine.objects.filter(change=change, invoice__state__in=COUNTED).select_related("invoice__vendor")
    if sum(row.cost_minor for row in rows):
        raise Refused(
            _("%(change)s is billed by %(invoices)s; query or credit that first.")
            % {"change": change.code, "invoices": named(row.invoice for row in rows)}
        )


def must_bear_nothing(agreement: Agreement) -> None:
    """An agreement that changes alter, or that its vendor has billed, is not simply taken back. Raises: Refused."""
    lines = [row.line_id for row in agreement.lines.all()]
    in_force = Change.objects.filter(line_id__in=lines, state__in=IN_FORCE)
    if in_force:
        raise Refused(
            _(
                "These changes alter what %(vendor)s agreed to: %(changes)s. Withdraw them first; take up again what is agreed."
            )
            % {"vendor": agreement.vendor, "changes": named(in_force)}
        )
    billed = InvoiceLine.objects.filter(line_id__in=lines, invoice__vendor=agreement.vendor, invoice__state__in=COUNTED)
    if sum(row.cost_minor for row in billed):
        raise Refused(
            _("%s has billed this agreement. Refuse the invoices, or have them credited, first.")
            % named(row.invoice for row in billed.select_related("invoice__vendor"))
        )


def must_not_be_priced(knock_on: KnockOn) -> None:
    """An effect that a change has put into an agreement is taken back with the change. Raises: Refused."""
    change = Change.objects.filter(knock_on=knock_on, state__in=IN_FORCE).first()
    if change is not None:
        raise Refused(
            _("%s has put an effect of this decision into an agreement; withdraw that change first.") % change
        )


def named(rows: Any) -> str:
    """Rows by name, each once, in their order."""
    return ", ".join(dict.fromkeys(map(str, rows)))
