"""Opening a decision, and writing its options and must-pass checks, until it is recorded."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from budget.models import LineItem, Quote
from budget.services.bounds import amount_within_bounds, date_within_bounds
from budget.services.ledger import lock
from decisions.calc.estimates import extended
from decisions.models import (
    AdjustAxis,
    CheckResult,
    CostItem,
    Decision,
    DecisionLine,
    Effect,
    MustPass,
    Option,
    OptionPlan,
)
from decisions.selectors.plan_today import PlanToday
from projects import trail
from projects.faults import Refused, Stale
from projects.models import Project, User

LONGEST_DAYS = 3660


@dataclass(frozen=True, slots=True)
class ItemDraft:
    """A piece of first cost on one line: a quote, or an estimate, perhaps as quantity × rate."""

    line_id: int
    name: str
    quote_id: int | None = None
    amount_minor: int | None = None
    quantity: Decimal | None = None
    rate: Decimal | None = None
    shared: bool = False


@dataclass(frozen=True, slots=True)
class EffectDraft:
    line_id: int
    amount_minor: int
    why: str


@dataclass(frozen=True, slots=True)
class CheckDraft:
    must_pass_id: int
    verdict: str = CheckResult.Verdict.UNKNOWN
    value: Decimal | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class AxisDraft:
    name: str
    allows: Decimal
    spread: Decimal


@dataclass(frozen=True, slots=True)
class OptionDraft:
    name: str
    items: tuple[ItemDraft, ...]
    effects: tuple[EffectDraft, ...] = ()
    checks: tuple[CheckDraft, ...] = ()
    axes: tuple[AxisDraft, ...] = ()
    note: str = ""
    lead_days: int | None = None
    extra_days: int = 0
    float_days: int = 0
    adjust_how: str = ""
    adjust_chance: Decimal | None = None
    adjust_cost_minor: int = 0
    adjust_days: int = 0
    adjust_float_days: int | None = None
    yearly_cost_minor: int = 0
    years: int = 0
    discount_percent: Decimal | None = None
    #: What it does to the plan, as `schedule.calc.alter_json` writes it; empty for an option that leaves it alone.
    changes: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class MustPassDraft:
    name: str
    unit: str = ""
    at_least: Decimal | None = None
    at_most: Decimal | None = None
    id: int | None = None


@transaction.atomic
def open_decision(
    project: Project,
    *,
    title: str,
    line_ids: list[int],
    by: User | None,
    now: datetime,
    question: str = "",
    need_by: date | None = None,
    code: str = "",
    checks: Sequence["MustPassDraft"] = (),
) -> Decision:
    """Put a question on the table for one or more lines. Writes Decision, DecisionLine, MustPass and a trail row.

    Args:
        code: a short name of one's own that is not taken; empty for the next number.
        checks: what every option has to pass.
    """
    project = lock(project)
    if not title.strip():
        raise Refused(_("Give the decision a title."), field="title")
    date_within_bounds(need_by, field="need_by")
    lines = _lines(project, line_ids)
    code = code or _next_code(project)
    decision = Decision.objects.create(
        project=project,
        code=code,
        title=title.strip(),
        question=question.strip(),
        need_by=need_by,
        opened_at=now,
        opened_by=by,
    )
    DecisionLine.objects.bulk_create(DecisionLine(decision=decision, line=line) for line in lines)
    _write_checks(decision, checks)
    trail.note(
        project, by=by, at=now, verb="opened", subject="decision", subject_id=decision.pk,
        summary=_("Opened decision %(code)s %(title)s") % {"code": code, "title": decision.title},
    )  # fmt: skip
    return decision


def _next_code(project: Project) -> str:
    taken = set(Decision.objects.filter(project=project).values_list("code", flat=True))
    return next(code for number in range(1, len(taken) + 2) if (code := f"D{number:02d}") not in taken)


def _lines(project: Project, line_ids: list[int]) -> list[LineItem]:
    lines = list(LineItem.objects.filter(project=project, removed_on=None, pk__in=line_ids))
    if not lines or len(lines) != len(set(line_ids)):
        raise Refused(
            _("Choose the lines that the decision settles; each has to belong to this project."), field="lines"
        )
    return lines


def open_for_editing(decision: Decision, *, version: int | None = None) -> Decision:
    """Hold a decision for writing. Raises: Refused when it is recorded, Stale when somebody saved it first."""
    lock(decision.project)
    held = Decision.objects.select_for_update().get(pk=decision.pk)
    if held.state != Decision.State.OPEN:
        raise Refused(
            _("This decision is %(state)s; reopen it before changing it.") % {"state": held.get_state_display()}
        )
    if version is not None and held.version != version:
        raise Stale(
            _("Somebody else saved this decision while you were editing; look at what stands now and save again."),
            theirs={"title": held.title, "question": held.question, "need_by": held.need_by, "version": held.version},
        )
    return held


@transaction.atomic
def edit_decision(
    decision: Decision, *, title: str, question: str, need_by: date | None, version: int, by: User, now: datetime
) -> Decision:
    """Change a decision's words and date while it is open. Raises: Stale, Refused."""
    held = open_for_editing(decision, version=version)
    if not title.strip():
        raise Refused(_("Give the decision a title."), field="title")
    held.title, held.question = title.strip(), question.strip()
    held.need_by = date_within_bounds(need_by, field="need_by")
    held.version += 1
    held.save()
    trail.note(
        held.project, by=by, at=now, verb="edited", subject="decision", subject_id=held.pk,
        summary=_("Edited decision %s") % held.code,
    )  # fmt: skip
    return held


@transaction.atomic
def set_must_passes(
    decision: Decision, drafts: list[MustPassDraft], *, by: User | None, now: datetime, version: int | None = None
) -> list[MustPass]:
    """Write the checks that bar an option which fails them; those no longer named are dropped while the decision is open.

    Values that options have given already are held to the new bounds. Raises: Stale, Refused.
    """
    held = open_for_editing(decision, version=version)
    kept = _write_checks(held, drafts)
    _touch(held)
    trail.note(
        held.project, by=by, at=now, verb="edited", subject="decision", subject_id=held.pk,
        summary=_("Must-pass checks of decision %s") % held.code,
    )  # fmt: skip
    return kept


def _write_checks(decision: Decision, drafts: Sequence[MustPassDraft]) -> list[MustPass]:
    for draft in drafts:
        if not draft.name.strip():
            raise Refused(_("Every check needs a name."), field="name")
        if draft.at_least is not None and draft.at_most is not None and draft.at_least > draft.at_most:
            raise Refused(_("%s: the least is above the most; swap the two.") % draft.name, field="at_least")
    MustPass.objects.filter(decision=decision).exclude(pk__in=[d.id for d in drafts if d.id]).delete()
    kept = [_must_pass(decision, place, draft) for place, draft in enumerate(drafts)]
    for row in CheckResult.objects.filter(must_pass__in=kept, value__isnull=False).select_related("must_pass"):
        judged = verdict(row.must_pass, row.value, row.verdict)
        if judged != row.verdict:
            row.verdict = judged
            row.save(update_fields=["verdict"])
    return kept


def _must_pass(decision: Decision, place: int, draft: MustPassDraft) -> MustPass:
    row = MustPass.objects.filter(decision=decision, pk=draft.id or 0).first() or MustPass(decision=decision)
    row.name, row.unit, row.at_least, row.at_most, row.position = (
        draft.name.strip(), draft.unit.strip(), draft.at_least, draft.at_most, place,
    )  # fmt: skip
    row.save()
    return row


@transaction.atomic
def add_option(
    decision: Decision, draft: OptionDraft, *, by: User | None, now: datetime, today: date | None = None
) -> Option:
    """Write one way to build it. Writes Option with items, effects, axes, check results and plan, and a trail row.

    Args:
        today: the day on which its changes have to fit the plan; asked for only where it has any.
    """
    held = open_for_editing(decision)
    draft = _reckoned(held, draft)
    _check(held, draft)
    _check_changes(held, draft, today)
    taken = set(held.options.values_list("key", flat=True))
    key = next(letter for letter in _keys() if letter not in taken)
    option = Option.objects.create(decision=held, key=key, **_columns(draft))
    _write_parts(held, option, draft)
    _touch(held)
    trail.note(
        held.project, by=by, at=now, verb="added", subject="option", subject_id=option.pk,
        summary=_("Added option %(option)s to decision %(code)s") % {"option": option, "code": held.code},
    )  # fmt: skip
    return option


@transaction.atomic
def edit_option(
    option: Option, draft: OptionDraft, *, version: int, by: User, now: datetime, today: date | None = None
) -> Option:
    """Write an option anew while its decision is open. Raises: Stale, Refused."""
    held = open_for_editing(option.decision)
    standing = Option.objects.select_for_update().get(pk=option.pk)
    if standing.version != version:
        raise Stale(
            _("Somebody else saved this option while you were editing; look at what stands now and save again."),
            theirs=_standing(standing),
        )
    draft = _reckoned(held, draft)
    _check(held, draft)
    _check_changes(held, draft, today)
    for column, value in _columns(draft).items():
        setattr(standing, column, value)
    standing.version += 1
    standing.save()
    for parts in (standing.items, standing.effects, standing.axes, standing.check_results):
        parts.all().delete()
    _write_parts(held, standing, draft)
    _touch(held)
    trail.note(
        held.project, by=by, at=now, verb="edited", subject="option", subject_id=standing.pk,
        summary=_("Edited option %(option)s of decision %(code)s") % {"option": standing, "code": held.code},
    )  # fmt: skip
    return standing


def _standing(option: Option) -> dict[str, object]:
    """An option's columns by the names of its entry form."""
    columns = {name.removesuffix("_minor"): getattr(option, name) for name in _columns(OptionDraft("", ()))}
    return columns | {"version": option.version}


@transaction.atomic
def withdraw_option(option: Option, *, by: User, now: datetime) -> None:
    """Take an option off the table; it stays readable and can be brought back by `restore_option`."""
    held = open_for_editing(option.decision)
    Option.objects.filter(pk=option.pk).update(withdrawn_at=now)
    _touch(held)
    trail.note(
        held.project, by=by, at=now, verb="withdrew", subject="option", subject_id=option.pk,
        summary=_("Took option %(option)s off decision %(code)s") % {"option": option, "code": held.code},
    )  # fmt: skip


@transaction.atomic
def restore_option(option: Option, *, by: User, now: datetime) -> None:
    """Put an option back on the table."""
    held = open_for_editing(option.decision)
    Option.objects.filter(pk=option.pk).update(withdrawn_at=None)
    _touch(held)
    trail.note(
        held.project, by=by, at=now, verb="restored", subject="option", subject_id=option.pk,
        summary=_("Put option %(option)s back on decision %(code)s") % {"option": option, "code": held.code},
    )  # fmt: skip


def _reckoned(decision: Decision, draft: OptionDraft) -> OptionDraft:
    """Work out estimates that are given as a quantity at a rate."""
    return replace(draft, items=tuple(_reckoned_item(item, decision.project.currency) for item in draft.items))


def _reckoned_item(item: ItemDraft, currency: str) -> ItemDraft:
    if item.quote_id is not None or item.quantity is None or item.rate is None:
        return item
    if item.quantity < 0 or item.rate < 0:
        raise Refused(_("%s: a quantity and its rate lie at zero or above.") % item.name, field="items")
    amount = extended(item.quantity, item.rate, currency=currency)
    if item.amount_minor not in (None, amount):
        raise Refused(
            _("%s: the amount is not the quantity at its rate; leave one of the two out.") % item.name, field="items"
        )
    return replace(item, amount_minor=amount)


def _touch(decision: Decision) -> None:
    decision.version += 1
    decision.save(update_fields=["version"])


def _keys() -> list[str]:
    letters = [chr(place) for place in range(ord("A"), ord("Z") + 1)]
    return letters + [first + second for first in letters for second in letters]


def _columns(draft: OptionDraft) -> dict[str, object]:
    names = (
        "note", "lead_days", "extra_days", "float_days", "adjust_how", "adjust_chance", "adjust_cost_minor", "adjust_days",
        "adjust_float_days", "yearly_cost_minor", "years", "discount_percent",
    )  # fmt: skip
    return {"name": draft.name.strip()} | {name: getattr(draft, name) for name in names}


def _check(decision: Decision, draft: OptionDraft) -> None:
    currency = decision.project.currency
    if not draft.name.strip():
        raise Refused(_("Give the option a name."), field="name")
    for name in ("adjust_cost_minor", "yearly_cost_minor"):
        amount_within_bounds(getattr(draft, name), currency, field=name.removesuffix("_minor"))
    for name in ("lead_days", "extra_days", "float_days", "adjust_days", "adjust_float_days"):
        days = getattr(draft, name)
        if days is not None and not 0 <= days <= LONGEST_DAYS:
            raise Refused(_("Days lie between 0 and %d.") % LONGEST_DAYS, field=name)
    if not 0 <= draft.years <= 100:
        raise Refused(_("Years lie between 0 and 100."), field="years")
    if draft.adjust_chance is not None and not 0 <= draft.adjust_chance <= 1:
        raise Refused(_("A chance lies between 0 % and 100 %."), field="adjust_chance")
    if draft.discount_percent is not None and not 0 <= draft.discount_percent <= 100:
        raise Refused(_("A percentage lies between 0 and 100."), field="discount_percent")
    if any(axis.spread <= 0 or axis.allows < 0 for axis in draft.axes):
        raise Refused(_("An axis allows 0 or more, and its spread lies above 0."), field="axes")
    _check_items(decision, draft, currency)


def _check_changes(decision: Decision, draft: OptionDraft, today: date | None) -> None:
    """What an option does to the plan is said once, and has to fit the plan as it stands."""
    if not draft.changes:
        return
    if draft.extra_days or draft.float_days:
        raise Refused(_("Say what it does to the plan, or give its days by hand; one of the two."), field="extra_days")
    if today is None:
        raise ValueError("today is needed to put changes into the plan")
    try:
        PlanToday(decision.project, today=today, decisions=[decision]).check(decision, draft.changes)
    except Refused as fault:
        raise Refused(fault.message, field="changes") from fault


def _check_items(decision: Decision, draft: OptionDraft, currency: str) -> None:
    own = set(decision.decision_lines.values_list("line_id", flat=True))
    if not draft.items:
        raise Refused(_("Price the option: choose a quote or give an estimate."), field="items")
    if missing := own - {item.line_id for item in draft.items}:
        lines = ", ".join(LineItem.objects.filter(pk__in=missing).values_list("code", flat=True))
        raise Refused(_("Every option has to price the same work; %s has no price here.") % lines, field="items")
    for item in draft.items:
        _check_item(decision, item, own, currency)
    priced = [(item.line_id, item.quote_id) for item in draft.items if item.quote_id]
    if len(set(priced)) != len(priced):
        raise Refused(_("A quote can stand once on a line of an option."), field="items")
    if len({line for line, _quote in priced}) != len(priced):
        raise Refused(_("A line can go to one quote of an option; price the rest as an estimate."), field="items")
    others = LineItem.objects.filter(
        project=decision.project, removed_on=None, pk__in=[e.line_id for e in draft.effects]
    )
    if others.count() != len({e.line_id for e in draft.effects}):
        raise Refused(_("An effect needs a line of this project."), field="effects")
    for effect in draft.effects:
        amount_within_bounds(effect.amount_minor, currency, field="effects", negative=True)


def _check_item(decision: Decision, item: ItemDraft, own: set[int], currency: str) -> None:
    if item.line_id not in own:
        raise Refused(_("An item prices a line of the decision; enter any other line as an effect."), field="items")
    if (item.quote_id is None) == (item.amount_minor is None):
        raise Refused(_("%s: choose a quote or give an estimate, one of the two.") % item.name, field="items")
    if item.amount_minor is not None:
        amount_within_bounds(item.amount_minor, currency, field="items")
    elif not Quote.objects.filter(
        project=decision.project,
        pk=item.quote_id or 0,
        lines__line_id=item.line_id,
        state__in=[Quote.State.OPEN, Quote.State.DECLINED],
    ).exists():
        raise Refused(_("%s: this quote does not price the line, or is settled.") % item.name, field="items")


def _write_parts(decision: Decision, option: Option, draft: OptionDraft) -> None:
    OptionPlan.objects.filter(option=option).delete()
    if draft.changes:
        OptionPlan.objects.create(option=option, changes=dict(draft.changes))
    CostItem.objects.bulk_create(
        CostItem(
            option=option, position=place, line_id=item.line_id, name=item.name.strip()[:160], quote_id=item.quote_id,
            amount_minor=item.amount_minor, quantity=item.quantity, rate=item.rate, shared=item.shared,
        )
        for place, item in enumerate(draft.items)
    )  # fmt: skip
    Effect.objects.bulk_create(
        Effect(option=option, line_id=e.line_id, amount_minor=e.amount_minor, why=e.why.strip()[:200])
        for e in draft.effects
    )
    AdjustAxis.objects.bulk_create(
        AdjustAxis(option=option, name=a.name, allows=a.allows, spread=a.spread) for a in draft.axes
    )
    known = {row.pk: row for row in decision.must_passes.all()}
    CheckResult.objects.bulk_create(
        CheckResult(
            option=option, must_pass=known[check.must_pass_id], value=check.value, note=check.note[:200],
            verdict=verdict(known[check.must_pass_id], check.value, check.verdict),
        )
        for check in draft.checks
        if check.must_pass_id in known
    )  # fmt: skip


def verdict(check: MustPass, value: Decimal | None, judged: str) -> str:
    """Tell how a value stands against a check's bounds; without bounds or value, the judgement given counts."""
    if value is None or (check.at_least is None and check.at_most is None):
        return judged
    low = check.at_least is None or value >= check.at_least
    high = check.at_most is None or value <= check.at_most
    return CheckResult.Verdict.PASSES if low and high else CheckResult.Verdict.FAILS
