"""Random errands on a project's money: whatever people do in whatever order, the ledger stays true.

After every step, by rows and not by the kept figures alone: budget plus movements is the likely final, per line and in
total; the likely final is what the rules give for the facts as they stand; nothing written earlier was edited or
deleted; the bridge and both yardsticks add up. A refused step changes nothing.
"""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import transaction
from django.db.models import Sum
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from budget.calc import forecast
from budget.models import LineItem, Movement, Quote, QuoteExtra, QuoteItem, QuoteLine
from budget.selectors import facts
from budget.selectors.overview import overview
from budget.services import agreements, ledger, lines, quotes
from decisions.models import Approval, Decision, Record, SavingKind
from decisions.services import drafts, records
from projects import append_only
from projects.faults import Refused
from projects.models import ApprovalLimit, ExchangeRate, Membership, Project, Role, User

START = date(2027, 1, 4)
MONEY = st.integers(0, 500_000_00)


class World:
    """A project in memory of the test: three lines, a scope list, a limit that some decisions exceed."""

    def __init__(self) -> None:
        self.day = START
        self.lead = User.objects.create(username="lead")
        self.owner = User.objects.create(username="owner")
        self.project = Project.objects.create(
            slug="w", name="W", currency="GBP", created_at=self.now, cost_of_day_minor=90_000
        )
        for user, role, limit in ((self.lead, Role.LEAD, 100_000_00), (self.owner, Role.OWNER, None)):
            Membership.objects.create(project=self.project, user=user, role=role, joined_at=self.now)
            ApprovalLimit.objects.create(project=self.project, role=role, amount_minor=limit)
        ExchangeRate.objects.create(
            project=self.project, currency="EUR", rate=Decimal("0.86"), rated_on=START, entered_at=self.now
        )
        self.lines = [self._line(number) for number in range(3)]
        lines.set_scope(self.lines[0], [("Grout", 40_000), ("Bolts", None)], **self.as_lead)
        self.seen: dict[tuple[type, int], tuple] = {}

    def _line(self, number: int) -> LineItem:
        draft = lines.LineDraft(
            "T1", f"L{number}", f"Line {number}", budget_minor=10_000_00 * number, trade_name="Trade"
        )
        return lines.add_line(self.project, draft, **self.as_lead)

    @property
    def now(self) -> datetime:
        return datetime(self.day.year, self.day.month, self.day.day, 9, tzinfo=UTC)

    @property
    def as_lead(self) -> dict[str, Any]:
        return {"by": self.lead, "now": self.now, "today": self.day}


def pick(rows: Any, number: int) -> Any:
    found = list(rows)
    return found[number % len(found)] if found else None


def log_quote(world: World, a: int, b: int, amount: int) -> None:
    first = world.lines[a % 3]
    scope = (
        quotes.ScopeDraft("Grout", (QuoteItem.Standing.OUT, QuoteItem.Standing.INCLUDED, QuoteItem.Standing.UNCLEAR)[b % 3]),
        quotes.ScopeDraft("Bolts", QuoteItem.Standing.PRICED, amount // 7),
    )  # fmt: skip
    quoted = [quotes.QuotedLine(first.pk, amount, scope[: b % 3] if first == world.lines[0] else ())]
    if b % 4 == 0:
        duty = (quotes.ExtraDraft(QuoteExtra.Kind.DUTY, "Duty", b),)
        quoted.append(quotes.QuotedLine(world.lines[(a + 1) % 3].pk, amount // 3, extras=duty))
    draft = quotes.QuoteDraft(
        vendor=f"Vendor {b % 5}", currency=("GBP", "EUR")[a % 2], quoted_on=world.day, lines=tuple(quoted),
        valid_until=world.day + timedelta(days=b % 9) if b % 2 else None, discount_percent=Decimal(b % 11),
        freight_quoted_minor=b % 1000, tax_percent=Decimal("8.25") if a % 3 == 0 else None,
    )  # fmt: skip
    quotes.log_quote(world.project, draft, **world.as_lead)


def estimate(world: World, a: int, b: int, amount: int) -> None:
    lines.estimate(world.lines[a % 3], amount_minor=amount, basis="guess", on=world.day, **world.as_lead)


def own_forecast(world: World, a: int, b: int, amount: int) -> None:
    lines.forecast_own(world.lines[a % 3], amount_minor=amount if b % 2 else None, reason="felt", **world.as_lead)


def prefer(world: World, a: int, b: int, amount: int) -> None:
    if kept := pick(QuoteLine.objects.select_related("line__project").order_by("pk"), a):
        quotes.prefer(kept, preferred=bool(b % 3), **world.as_lead)


def accept(world: World, a: int, b: int, amount: int) -> None:
    if quote := pick(Quote.objects.order_by("pk"), a):
        first = quote.lines.first().line_id
        rest = {first: b} if b % 3 == 0 else {}
        terms = agreements.Terms(amounts={first: amount} if b % 2 else {}, still_to_let=rest)
        agreements.accept_quote(quote, role=Role.OWNER, terms=terms, **(world.as_lead | {"by": world.owner}))


def take_back(world: World, a: int, b: int, amount: int) -> None:
    if agreement := pick(world.project.agreements.filter(from_record=None).order_by("pk"), a):
        agreements.reverse_agreement(agreement, reason="changed our mind", **world.as_lead)


def withdraw(world: World, a: int, b: int, amount: int) -> None:
    if quote := pick(Quote.objects.order_by("pk"), a):
        quotes.withdraw_quote(quote, reason="vendor gave up", **world.as_lead)


def replug(world: World, a: int, b: int, amount: int) -> None:
    entries = [("Grout", amount if a % 2 else None), ("Bolts", b if b % 2 else None)]
    lines.set_scope(world.lines[0], entries, **world.as_lead)


def add_scope_line(world: World, a: int, b: int, amount: int) -> None:
    code = f"X{LineItem.objects.count()}"
    lines.add_line(world.project, lines.LineDraft("T1", code, "Added since", added_minor=amount), **world.as_lead)


def open_decision(world: World, a: int, b: int, amount: int) -> None:
    line, other = world.lines[a % 3], world.lines[(a + 1) % 3]
    now = {"by": world.lead, "now": world.now}
    decision = drafts.open_decision(world.project, title="How", line_ids=[line.pk], **now)
    for number in range(2 + b % 2):
        quote = pick(Quote.objects.filter(lines__line=line, state=Quote.State.OPEN).order_by("pk"), b + number)
        item = (
            drafts.ItemDraft(line.pk, "it", quote_id=quote.pk)
            if quote
            else drafts.ItemDraft(line.pk, "it", amount_minor=amount + number)
        )
        effects = (drafts.EffectDraft(other.pk, b - amount // 2, "moves work"),) if number else ()
        drafts.add_option(
            decision, drafts.OptionDraft(f"Way {number}", (item,), effects, extra_days=b % 7, float_days=3), **now
        )


def record(world: World, a: int, b: int, amount: int) -> None:
    if decision := pick(Decision.objects.filter(state=Decision.State.OPEN).order_by("pk"), a):
        option = pick(decision.options.order_by("pk"), b)
        kinds = (records.SavingDraft(SavingKind.SCOPE_CUT, amount),) if b % 5 == 4 else ()
        records.record(decision, records.Choice(option.pk, "best", savings=kinds), role=Role.LEAD, **world.as_lead)


def answer(world: World, a: int, b: int, amount: int) -> None:
    if row := pick(Record.objects.filter(needs_approval=True, approval=None).order_by("pk"), a):
        verdict = Approval.Verdict.APPROVED if b % 3 else Approval.Verdict.DECLINED
        who = {"by": world.owner, "now": world.now, "today": world.day}
        records.approve(row, verdict=verdict, note="read it", role=Role.OWNER, **who)


def reopen(world: World, a: int, b: int, amount: int) -> None:
    if decision := pick(Decision.objects.exclude(state=Decision.State.OPEN).order_by("pk"), a):
        records.reopen(decision, reason="new facts", **world.as_lead)


def days_pass(world: World, a: int, b: int, amount: int) -> None:
    world.day += timedelta(days=1 + a % 4)
    ledger.bring_up_to(world.project, today=world.day, at=world.now)


DEEDS: list[Callable[[World, int, int, int], None]] = [
    log_quote, log_quote, log_quote, estimate, own_forecast, prefer, accept, take_back, withdraw, replug, add_scope_line,
    open_decision, open_decision, record, record, answer, answer, reopen, days_pass,
]  # fmt: skip


def check(world: World) -> None:
    rows = list(LineItem.objects.filter(project=world.project))
    moved = dict(Movement.objects.values_list("line").annotate(total=Sum("amount_minor")).order_by())
    assert all(row.likely_minor == row.budget_minor + moved.get(row.pk, 0) for row in rows)
    assert ledger.unreconciled(world.project) == []
    by_rule = {fact.id: forecast.likely_final(fact, as_of=world.day) for fact in facts.line_facts(world.project)}
    assert {str(row.pk): (row.likely_minor, row.state) for row in rows} == {
        key: (outcome.likely_minor, outcome.state) for key, outcome in by_rule.items()
    }
    seen = overview(world.project)
    assert seen.total.likely == sum(row.likely_minor for row in rows)
    assert seen.total.over_budget == seen.total.likely - seen.total.budget == sum(step.amount for step in seen.bridge)
    assert seen.total.against_original == sum(
        r.likely_minor - r.original_minor for r in rows if r.original_minor is not None
    )
    remember(world)


def remember(world: World) -> None:
    """Nothing append-only that was there before may be gone or different."""
    now = {}
    for model in append_only.AppendOnly.__subclasses__():
        for row in model.objects.values_list():
            now[model, row[0]] = tuple(map(str, row))
    assert world.seen.items() <= now.items()
    world.seen = now


STEP = st.tuples(st.integers(0, len(DEEDS) - 1), st.integers(0, 40), st.integers(0, 40), MONEY)


@pytest.mark.django_db
@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck), phases=set(Phase) - {Phase.explain})
@given(st.lists(STEP, min_size=4, max_size=30))
def test_whatever_people_do_the_ledger_stays_true(steps: list[tuple[int, int, int, int]]) -> None:
    point = transaction.savepoint()
    try:
        world = World()
        check(world)
        for deed, a, b, amount in steps:
            before = Movement.objects.count()
            try:
                DEEDS[deed](world, a, b, amount)
            except Refused:
                assert Movement.objects.count() == before
            check(world)
    finally:
        transaction.savepoint_rollback(point)
