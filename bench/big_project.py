"""A generated project of the size that the goals are stated for: 2,000 lines, 10,000 quotes, 300 decisions, 50,000 invoices.

Rows are written in bulk and then levelled and settled by the program's own services, so that the kept figures and the
ledger are those of a real project. The same seed gives the same project.
"""

import random
from datetime import date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.db import transaction

from bench import big_bills
from budget.models import (
    Agreement,
    AgreementLine,
    Cause,
    LineItem,
    Quote,
    QuoteItem,
    QuoteLine,
    ScopeItem,
    Trade,
    Vendor,
)
from budget.services import ledger, levels
from decisions.models import CostItem, Decision, DecisionLine, Option
from projects.models import ApprovalLimit, ExchangeRate, Membership, Project, Role, User

TRADES, LINES, QUOTES, DECISIONS, VENDORS = 20, 2_000, 10_000, 300, 200
TODAY = date(2027, 1, 29)
NOW = datetime(2027, 1, 29, 9, tzinfo=ZoneInfo("UTC"))


@transaction.atomic
def build(slug: str = "big") -> Project:
    """Write the project and everything in it. Returns: the project."""
    draw = random.Random(1)
    project = _project(slug)
    trades = Trade.objects.bulk_create(
        Trade(project=project, code=f"T{n:02d}", name=f"Trade {n}", position=n) for n in range(TRADES)
    )
    lines = LineItem.objects.bulk_create(_line(project, trades[n % TRADES], n, draw) for n in range(LINES))
    vendors = Vendor.objects.bulk_create(
        Vendor(project=project, name=f"Vendor {n}", key=f"vendor {n}") for n in range(VENDORS)
    )
    _scope(lines)
    quotes = _quotes(project, lines, vendors, draw)
    _let(project, quotes[:: QUOTES // 800])
    big_bills.write(project, draw, today=TODAY, now=NOW)
    _decide(project, lines, draw)
    deed = ledger.Deed(by=None, at=NOW, on=TODAY, cause=Cause.QUOTED, note="generated")
    every = [line.pk for line in lines]
    levels.relevel(project, every, deed)
    ledger.settle(project, every, deed)
    return project


def _project(slug: str) -> Project:
    project = Project.objects.create(
        slug=slug, name="Big", currency="GBP", held_on=TODAY, settled_on=TODAY, created_at=NOW, cost_of_day_minor=90_000
    )
    for name, role in (("lead", Role.LEAD), ("owner", Role.OWNER)):
        user, _ = User.objects.get_or_create(username=name)
        Membership.objects.create(project=project, user=user, role=role, joined_at=NOW)
        ApprovalLimit.objects.create(project=project, role=role, amount_minor=None)
    ExchangeRate.objects.create(project=project, currency="EUR", rate=Decimal("0.86"), rated_on=TODAY, entered_at=NOW)
    return project


def _line(project: Project, trade: Trade, number: int, draw: random.Random) -> LineItem:
    budget = draw.randrange(100_000, 9_000_000)
    return LineItem(
        project=project, trade=trade, code=f"L{number:04d}", description=f"Piece of work number {number}",
        budget_minor=budget, likely_minor=budget, position=number,
    )  # fmt: skip


def _scope(lines: list[LineItem]) -> None:
    ScopeItem.objects.bulk_create(
        ScopeItem(line=line, name=name, plug_minor=plug, position=place)
        for line in lines[::4]
        for place, (name, plug) in enumerate((("Delivery", 40_000), ("Testing", 25_000), ("Protection", None)))
    )


def _quotes(project: Project, lines: list[LineItem], vendors: list[Vendor], draw: random.Random) -> list[Quote]:
    scope: dict[int, list[ScopeItem]] = {}
    for item in ScopeItem.objects.filter(line__project=project):
        scope.setdefault(item.line_id, []).append(item)
    quotes = Quote.objects.bulk_create(
        Quote(
            project=project, vendor=vendors[n % VENDORS], currency="EUR" if n % 9 == 0 else "GBP",
            rate=Decimal("0.86") if n % 9 == 0 else Decimal(1), quoted_on=TODAY - timedelta(days=draw.randrange(1, 200)),
            valid_until=TODAY + timedelta(days=draw.randrange(-30, 60)), logged_at=NOW,
        )
        for n in range(QUOTES)
    )  # fmt: skip
    QuoteLine.objects.bulk_create(QuoteLine(quote=quote, line=lines[n % LINES]) for n, quote in enumerate(quotes))
    items = []
    for n, quote in enumerate(quotes):
        line = lines[n % LINES]
        amount = int(line.budget_minor * draw.uniform(0.8, 1.3))
        items.append(QuoteItem(quote=quote, line=line, standing="priced", amount_quoted_minor=amount))
        for item in scope.get(line.pk, ()):
            standing = draw.choice(("included", "included", "out", "unclear"))
            items.append(QuoteItem(quote=quote, line=line, scope_item=item, standing=standing))
    QuoteItem.objects.bulk_create(items, batch_size=2000)
    return quotes


def _let(project: Project, quotes: list[Quote]) -> None:
    let: set[int] = set()
    for kept in QuoteLine.objects.filter(quote__in=quotes).select_related("quote", "line"):
        if kept.line_id in let:
            continue
        let.add(kept.line_id)
        quote = kept.quote
        made = Agreement.objects.create(
            project=project, vendor_id=quote.vendor_id, quote=quote, agreed_on=TODAY, recorded_at=NOW
        )
        AgreementLine.objects.create(
            agreement=made,
            line=kept.line,
            amount_minor=kept.line.budget_minor,
            amount_quoted_minor=kept.line.budget_minor,
        )
        Quote.objects.filter(pk=quote.pk).update(state=Quote.State.ACCEPTED)


def _decide(project: Project, lines: list[LineItem], draw: random.Random) -> None:
    decisions = Decision.objects.bulk_create(
        Decision(
            project=project,
            code=f"D{n:03d}",
            title=f"Question {n}",
            need_by=TODAY + timedelta(days=n % 60),
            opened_at=NOW,
        )
        for n in range(DECISIONS)
    )
    DecisionLine.objects.bulk_create(DecisionLine(decision=row, line=lines[n * 5]) for n, row in enumerate(decisions))
    options = Option.objects.bulk_create(
        Option(
            decision=row, key=key, name=f"Way {key}", extra_days=draw.randrange(0, 12), float_days=6,
            adjust_chance=Decimal("0.1"), adjust_cost_minor=500_000, adjust_days=5,
        )
        for row in decisions
        for key in "ABC"
    )  # fmt: skip
    line_of = {row.pk: lines[n * 5] for n, row in enumerate(decisions)}
    CostItem.objects.bulk_create(
        CostItem(
            option=option, line=line_of[option.decision_id], name=option.name,
            amount_minor=int(line_of[option.decision_id].budget_minor * draw.uniform(0.7, 1.3)),
        )
        for option in options
    )  # fmt: skip
