"""Trades, line items and what is reckoned about them before and beside the quotes."""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction
from django.db.models import Max, QuerySet
from django.utils.translation import gettext as _

from budget.models import (
    Cause,
    Estimate,
    ImportBatch,
    KnockOn,
    LineItem,
    Movement,
    OriginalQuote,
    OwnForecast,
    Quote,
    QuoteItem,
    QuoteLine,
    ScopeItem,
    Trade,
)
from budget.selectors.line import scope_mark
from budget.selectors.packages import STANDING
from budget.services import change_rules, levels
from budget.services.bounds import amount_within_bounds, columns_within_bounds, date_within_bounds
from budget.services.ledger import Deed, lock, settle
from projects import bulk, trail
from projects.faults import Refused, Stale
from projects.models import Project, User


@dataclass(frozen=True, slots=True)
class LineDraft:
    """A line item as somebody enters it; amounts in minor units of the project's currency."""

    trade_code: str
    code: str
    description: str
    budget_minor: int = 0
    kind: str = LineItem.Kind.WORK
    unit: str = ""
    quantity: Decimal | None = None
    #: Work added since the first budget: its amount is an estimate, and a movement with the cause `scope`.
    added_minor: int = 0
    trade_name: str = ""


@transaction.atomic
def add_trade(project: Project, *, by: User, now: datetime, code: str, name: str) -> Trade:
    """Write a trade. A code that is taken is refused."""
    project = lock(project)
    code = code.strip()
    if not code or not name.strip():
        raise Refused(_("A trade needs a code and a name."), field="code")
    if Trade.objects.filter(project=project, code__iexact=code).exists():
        raise Refused(_("Trade code %(code)s is taken; choose another.") % {"code": code}, field="code")
    position = (Trade.objects.filter(project=project).aggregate(Max("position"))["position__max"] or 0) + 1
    trade = _new_trade(project, code, name, position)
    trail.note(
        project, by=by, at=now, verb="added", subject="trade", subject_id=trade.pk, summary=_("Added trade %s") % trade
    )
    return trade


def _new_trade(project: Project, code: str, name: str, position: int) -> Trade:
    trade = Trade(project=project, code=code.strip(), name=name.strip(), position=position)
    columns_within_bounds(trade)
    trade.save()
    return trade


@transaction.atomic
def add_line(project: Project, draft: LineDraft, *, by: User | None, now: datetime, today: date) -> LineItem:
    """Write a line item with its first budget amount, or with an estimate where the work was added later.

    Writes LineItem, perhaps Trade, Estimate and Movement, and a trail row. Not safe to repeat: the code is then taken.
    """
    project = lock(project)
    line = enter_line(project, draft, batch=None)
    if draft.added_minor:
        enter_estimate(line, draft.added_minor, basis=_("added since the first budget"), by=by, now=now, on=today)
        settle(project, [line.pk], Deed(by, now, today, Cause.SCOPE, str(line), "line", line.pk))
    trail.note(
        project, by=by, at=now, verb="added", subject="line", subject_id=line.pk, summary=_("Added line %s") % line
    )
    return line


def enter_line(project: Project, draft: LineDraft, *, batch: ImportBatch | None) -> LineItem:
    """Write the row of a line item alone; for services that write many and settle once."""
    code, description = draft.code.strip(), draft.description.strip()
    if not code or not description:
        raise Refused(_("A line needs a code and a description."), field="code")
    if LineItem.objects.filter(project=project, code=code).exists():
        raise Refused(_("Line code %(code)s is taken; choose another.") % {"code": code}, field="code")
    amount_within_bounds(draft.budget_minor, project.currency, field="budget")
    amount_within_bounds(draft.added_minor, project.currency, field="added")
    if draft.kind not in LineItem.Kind.values:
        raise Refused(_("Choose work, allowance or contingency."), field="kind")
    position = (LineItem.objects.filter(project=project).aggregate(Max("position"))["position__max"] or 0) + 1
    line = LineItem(
        project=project,
        trade=trade_called(project, draft.trade_code, draft.trade_name),
        code=code,
        description=description,
        kind=draft.kind,
        unit=draft.unit,
        quantity=draft.quantity,
        budget_minor=draft.budget_minor,
        likely_minor=draft.budget_minor,
        import_batch=batch,
        position=position,
    )
    _check_columns(line)
    line.save()
    return line


def _check_columns(line: LineItem) -> None:
    columns_within_bounds(line)
    if line.quantity is not None and line.quantity < 0:
        raise Refused(_("A quantity lies at zero or above."), field="quantity")


def _standing(line: LineItem) -> LineItem:
    """The line as it stands, held for writing. Raises: Refused for one that was taken off the budget meanwhile."""
    held = LineItem.objects.select_related("project").select_for_update(of=("self",)).get(pk=line.pk)
    if held.removed_on is not None:
        raise Refused(_("%s was taken off the budget meanwhile; there is nothing to reckon for it.") % held)
    return held


def trade_called(project: Project, code: str, name: str) -> Trade:
    """Find a trade by its code, or add it when a name comes with an unknown code."""
    found = Trade.objects.filter(project=project, code__iexact=code.strip()).first()
    if found is None and name.strip() and code.strip():
        position = Trade.objects.filter(project=project).count() + 1
        return _new_trade(project, code, name, position)
    if found is None:
        raise Refused(_("There is no trade %(code)s; add the trade first.") % {"code": code}, field="trade")
    return found


@transaction.atomic
def edit_line(
    line: LineItem,
    *,
    by: User,
    now: datetime,
    version: int,
    description: str,
    unit: str,
    quantity: Decimal | None,
    plug_rule: str,
    today: date,
) -> LineItem:
    """Change what a line is called and how its gaps are plugged; its budget amount stays as it was first set.

    Raises: Stale when somebody saved the line since `version` was read.
    """
    project = lock(line.project)
    held = _standing(line)
    if held.version != version:
        raise Stale(
            _("Somebody else saved this line while you were editing; look at what stands now and save again."),
            theirs={
                "description": held.description,
                "unit": held.unit,
                "quantity": held.quantity,
                "plug_rule": held.plug_rule,
                "version": held.version,
            },
        )
    if not description.strip():
        raise Refused(_("A line needs a description."), field="description")
    replug = held.plug_rule != plug_rule
    held.description, held.unit, held.quantity, held.plug_rule = description.strip(), unit.strip(), quantity, plug_rule
    held.version += 1
    _check_columns(held)
    held.save(update_fields=["description", "unit", "quantity", "plug_rule", "version"])
    if replug:
        deed = Deed(by, now, today, Cause.QUOTED, _("gaps plugged by another rule"), "line", held.pk)
        levels.relevel(project, [held.pk], deed)
        settle(project, [held.pk], deed)
    trail.note(
        project, by=by, at=now, verb="edited", subject="line", subject_id=held.pk, summary=_("Edited line %s") % held
    )
    return held


@transaction.atomic
def estimate(
    line: LineItem, *, amount_minor: int, basis: str, by: User | None, now: datetime, on: date, today: date
) -> Estimate:
    """Enter what a line is reckoned to cost before it is quoted. Writes Estimate, perhaps a Movement, and a trail row."""
    project = lock(line.project)
    _standing(line)
    amount_within_bounds(amount_minor, project.currency, field="amount")
    date_within_bounds(on, field="estimated_on", latest=today)
    entered = enter_estimate(line, amount_minor, basis=basis, by=by, now=now, on=on)
    settle(project, [line.pk], Deed(by, now, today, Cause.REFORECAST, basis, "estimate", entered.pk))
    trail.note(
        project,
        by=by,
        at=now,
        verb="estimated",
        subject="line",
        subject_id=line.pk,
        summary=_("Estimated %s anew") % line,
    )
    return entered


@transaction.atomic
def forecast_own(
    line: LineItem, *, amount_minor: int | None, reason: str, by: User | None, now: datetime, today: date
) -> OwnForecast:
    """Put one's own figure over every other rule, with its reason; an amount of None lifts it again."""
    project = lock(line.project)
    _standing(line)
    if not reason.strip():
        raise Refused(_("Say why: an own forecast stands over the quotes and the agreement."), field="reason")
    if amount_minor is not None:
        amount_within_bounds(amount_minor, project.currency, field="amount")
    entered = enter_own_forecast(line, amount_minor, reason=reason, by=by, now=now, on=today)
    settle(project, [line.pk], Deed(by, now, today, Cause.REFORECAST, reason, "own forecast", entered.pk))
    what = _("Own forecast for %s") if amount_minor is not None else _("Lifted the own forecast for %s")
    trail.note(project, by=by, at=now, verb="forecast", subject="line", subject_id=line.pk, summary=what % line)
    return entered


def enter_own_forecast(
    line: LineItem, amount_minor: int | None, *, reason: str, by: User | None, now: datetime, on: date
) -> OwnForecast:
    """Write the row alone; for services that settle later."""
    return OwnForecast.objects.create(
        line=line, amount_minor=amount_minor, reason=reason[:300], entered_on=on, entered_at=now, entered_by=by
    )


@transaction.atomic
def set_scope(
    line: LineItem, entries: list[tuple[str, int | None]], *, by: User | None, now: datetime, today: date, was: str = ""
) -> list[ScopeItem]:
    """Write a line's scope list: names in order, each with the project's own plug or None.

    Args:
        was: the mark of the list that the new one was made from, or "" not to ask.

    An entry that is no longer named is taken off the list, not deleted: what quotes said about it stays. Quotes on the
    line are levelled anew and the likely final follows.
    """
    project = lock(line.project)
    _standing(line)
    if was and was != scope_mark(line):
        raise Stale(
            _(
                "Somebody saved this scope list meanwhile; nothing of yours is saved. Load the page again and change "
                "the list as it stands."
            )
        )
    names = [name.strip() for name, _plug in entries]
    if len({name.casefold() for name in names}) != len(names) or not all(names):
        raise Refused(_("Every entry of a scope list needs a name of its own."), field="scope")
    for _name, plug in entries:
        if plug is not None:
            amount_within_bounds(plug, project.currency, field="plug")
    dropped = ScopeItem.objects.filter(line=line, removed_at=None).exclude(name__in=names)
    _must_not_be_priced(dropped)
    dropped.update(removed_at=now)
    kept = [
        _scope_item(line, place, name, plug)
        for place, (name, plug) in enumerate(zip(names, [p for _n, p in entries], strict=True))
    ]
    deed = Deed(by, now, today, Cause.QUOTED, _("scope list changed"), "line", line.pk)
    levels.relevel(project, [line.pk], deed)
    settle(project, [line.pk], deed)
    trail.note(
        project, by=by, at=now, verb="scoped", subject="line", subject_id=line.pk, summary=_("Scope list of %s") % line
    )
    return kept


def _must_not_be_priced(items: QuerySet) -> None:
    priced = QuoteItem.objects.filter(scope_item__in=items, standing=QuoteItem.Standing.PRICED).exclude(
        quote__state__in=[Quote.State.WITHDRAWN, Quote.State.REPLACED]
    )
    if found := priced.select_related("scope_item", "quote__vendor").first():
        raise Refused(
            _(
                "%(vendor)s has priced “%(item)s”; keep it on the list, or log a quote without it that replaces the old one."
            )
            % {"vendor": found.quote.vendor, "item": found.scope_item},
            field="scope",
        )


def _scope_item(line: LineItem, place: int, name: str, plug: int | None) -> ScopeItem:
    item, _made = ScopeItem.objects.update_or_create(
        line=line, name=name, defaults={"plug_minor": plug, "position": place, "removed_at": None}
    )
    return item


@transaction.atomic
def choose_original(kept: QuoteLine, *, reason: str, by: User, now: datetime, today: date) -> OriginalQuote:
    """Measure a line's savings against another quote than before; a reason is needed.

    Writes OriginalQuote and a trail row; the likely final does not move.
    """
    project = lock(kept.line.project)
    kept = QuoteLine.objects.select_related("line", "quote__vendor").get(pk=kept.pk)
    if kept.quote.state not in STANDING:
        raise Refused(
            _("This quote is %(state)s; measure against one that stands.") % {"state": kept.quote.get_state_display()},
            field="quote",
        )
    if not reason.strip():
        raise Refused(
            _("Say why the yardstick changes: savings will be measured against another quote."), field="reason"
        )
    if not kept.complete:
        raise Refused(
            _("This quote still has gaps without a plug; price them before measuring against it."), field="quote"
        )
    row = levels.set_original(kept.line, kept, Deed(by, now, today, Cause.QUOTED), reason=reason)
    trail.note(
        project, by=by, at=now, verb="set", subject="line", subject_id=kept.line_id,
        summary=_("Original quote of %(line)s is now %(quote)s: %(reason)s") % {"line": kept.line, "quote": kept.quote, "reason": reason},
    )  # fmt: skip
    return row


def take_off(project: Project, lines: list[LineItem], *, deed: Deed) -> None:
    """Take lines off the budget whole: their movements are reversed and they leave every total."""
    rows = Movement.objects.filter(line__in=lines, reverses=None, reversal=None).select_related("line")
    Movement.objects.bulk_create(
        Movement(
            project=project, line=row.line, cause=row.cause, amount_minor=-row.amount_minor, occurred_on=deed.on,
            recorded_at=deed.at, recorded_by=deed.by, note=deed.note, source="reversal", reverses=row,
        )
        for row in rows
    )  # fmt: skip
    for line in lines:
        line.likely_minor, line.removed_on = line.budget_minor, deed.on
        line.code = f"{line.code[:10]}~{line.pk}"
    bulk.save_columns(lines, ["likely_minor", "removed_on", "code"])


def enter_knock_on(
    line: LineItem,
    amount_minor: int,
    *,
    reason: str,
    by: User | None,
    now: datetime,
    on: date,
    reverses: KnockOn | None = None,
) -> KnockOn:
    """Write what a decision taken elsewhere costs or spares a line, or take it back; the caller settles.

    Raises: Refused for one to be taken back that a change has put into an agreement.
    """
    if reverses is not None:
        change_rules.must_not_be_priced(reverses)
    return KnockOn.objects.create(
        line=line,
        amount_minor=amount_minor,
        reason=reason[:300],
        entered_on=on,
        entered_at=now,
        entered_by=by,
        reverses=reverses,
    )


def enter_estimate(
    line: LineItem,
    amount_minor: int,
    *,
    basis: str,
    by: User | None,
    now: datetime,
    on: date,
    reverses: Estimate | None = None,
) -> Estimate:
    """Write an estimate, or the row that takes one back; the caller settles."""
    return Estimate.objects.create(
        line=line,
        amount_minor=amount_minor,
        estimated_on=on,
        basis=basis[:300],
        entered_at=now,
        entered_by=by,
        reverses=reverses,
    )
