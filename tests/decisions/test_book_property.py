"""Random errands with decisions, changes, lettings and own entries: nothing is counted twice, nothing goes missing.

After every step, from the rows: what is left unexplained of a line that is let is what nobody has claimed of it; entering
just that explains the line to the cent; the sums of the page are the sums of its rows; what is claimed was saved when it
was claimed. A refused step changes nothing.
"""

from collections.abc import Callable
from decimal import Decimal

import pytest
from django.db import transaction
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from budget.models import Agreement, Change, KnockOn, LineItem, Quote
from budget.services import agreements, changes
from decisions.calc import savings_book
from decisions.models import BookEntry, Decision
from decisions.selectors import book_entries, savings_page, savings_proofs
from decisions.services import book, drafts, records
from projects.faults import Refused
from projects.models import Project, Role
from tests import builders
from tests.decisions import book_building as building
from tests.decisions import building as decisions

ORIGINAL = 20_000_00


class World:
    """Four lines with two quotes each; L0 and L1 may be put to a decision, which costs L3 something."""

    def __init__(self) -> None:
        self.lead = builders.person("lead")
        self.project: Project = builders.project(self.lead, lead_limit=900_000)
        self.lines = [builders.line(self.project, f"L{n}", budget=18_000) for n in range(4)]
        for line in self.lines:
            for amount, vendor in ((20_000, "First"), (17_000, "Second"), (21_500, "Third")):
                builders.quote(line, amount, vendor=f"{vendor} {line.code}")
        for line in self.lines[2:]:
            self.accept(line, "Second")
        self.decision = decisions.decision(self.project, *self.lines[:2])
        effect = drafts.EffectDraft(self.lines[3].pk, 700_00, "extra design")
        for name in ("Second", "Third"):
            items = tuple(decisions.priced(line, quote=self.quote(line, name)) for line in self.lines[:2])
            decisions.option(self.decision, name, *items, effects=(effect,))

    @property
    def who(self) -> dict:
        return building.who(self.project)

    def quote(self, line: LineItem, vendor: str) -> Quote:
        return Quote.objects.get(vendor__name=f"{vendor} {line.code}")

    def accept(self, line: LineItem, vendor: str) -> None:
        agreements.accept_quote(self.quote(line, vendor), role=Role.OWNER, **self.who)

    def line(self, a: int) -> LineItem:
        return LineItem.objects.select_related("project").get(pk=self.lines[a % 4].pk)


def pick(rows, a: int):
    found = list(rows.order_by("pk"))
    return found[a % len(found)] if found else None


def accept(world: World, a: int, b: int, amount: int) -> None:
    world.accept(world.line(a), ("Second", "Third")[b % 2])


def break_off(world: World, a: int, b: int, amount: int) -> None:
    if agreement := pick(Agreement.objects.filter(reversal=None), a):
        agreements.reverse_agreement(agreement, reason="broke off", **world.who)


def decide(world: World, a: int, b: int, amount: int) -> None:
    decision = Decision.objects.get(pk=world.decision.pk)
    if decision.state == Decision.State.DECIDED:
        records.reopen(decision, reason="again", **world.who)
    else:
        records.record(decision, decisions.choose(decision, "AB"[b % 2]), role=Role.LEAD, **world.who)


def enter(world: World, a: int, b: int, amount: int) -> None:
    kind = book.KINDS[b % len(book.KINDS)]
    sign = -1 if kind == "extra" else 1
    facts = {"kind": kind, "state": book.ORDER[amount % 3], "what": f"no {BookEntry.objects.count()}"}
    building.enter(world.line(a), sign * (amount // 100), **facts)


def further(world: World, a: int, b: int, amount: int) -> None:
    if entry := pick(book_entries.standing_own(world.project), a):
        building.advance(entry, book.ORDER[b % 3], amount_minor=amount if amount % 2 else None)


def take_back(world: World, a: int, b: int, amount: int) -> None:
    if entry := pick(BookEntry.objects.filter(project=world.project), a):
        building.take_back(entry)


def change(world: World, a: int, b: int, amount: int) -> None:
    line, knock_on = world.line(a), pick(KnockOn.objects.filter(reverses=None), b)
    effect = knock_on.pk if knock_on and knock_on.line_id == line.pk else None
    draft = changes.ChangeDraft(
        line.pk, "More", "site error", (amount - 250_000) or 1, ("owner", "saving", "credit")[b % 3],
        chance=Decimal(b % 11) / 10, knock_on_id=effect,
    )  # fmt: skip
    changes.raise_change(world.project, draft, role=Role.OWNER, agree=b % 2 == 0, **world.who)


def answer(world: World, a: int, b: int, amount: int) -> None:
    if found := pick(Change.objects.filter(project=world.project), a):
        deed = (changes.decline, changes.withdraw, changes.agree)[b % 3]
        deed(found, note="so it is", **world.who | ({"role": Role.OWNER} if b % 3 == 2 else {}))


DEEDS: list[Callable[[World, int, int, int], None]] = [
    accept, break_off, decide, decide, enter, enter, enter, enter, further, further, take_back, change, change, answer,
]  # fmt: skip


def check(world: World) -> None:
    held = book_entries.read(world.project)
    figures = savings_proofs.line_figures(world.project, held)
    claims = [entry.claim for entry in held.standing]
    for row in savings_proofs.proofs(world.project):
        left = savings_book.left_to_claim(row.lines[0].pk, figures, claims)
        assert row.proof.unexplained_minor == left
    page = savings_page.savings_page(world.project)
    assert sum(row.left_minor for row in page.rows) == page.book.net_minor
    assert page.promised_minor + page.book.eaten_minor == page.book.net_minor
    shown = [entry for row in page.rows for entry in row.entries]
    shown += [row.entry for row in (*page.beside, *page.ideas)]
    assert len(shown) == len(held.entries)


def one_entry_more_explains(world: World) -> None:
    """What is left of a line that is let can be entered to the cent, not a cent more, and then the line is explained."""
    point = transaction.savepoint()
    for row in savings_proofs.proofs(world.project):
        left = row.proof.unexplained_minor
        if not left or row.lines[0].agreed_minor is None:
            continue
        kind, cent = ("same for less", 1) if left > 0 else ("extra", -1)
        draft = book.EntryDraft(kind, row.lines[0].pk, "the rest", left + cent)
        with pytest.raises(Refused):
            book.add_entry(world.project, draft, **world.who)
        book.add_entry(world.project, book.EntryDraft(kind, row.lines[0].pk, "the rest", left), **world.who)
    let = [row for row in savings_proofs.proofs(world.project) if row.lines[0].agreed_minor is not None]
    assert all(row.holds for row in let)
    transaction.savepoint_rollback(point)


STEP = st.tuples(st.integers(0, len(DEEDS) - 1), st.integers(0, 40), st.integers(0, 40), st.integers(1, 5_000_00))


@pytest.mark.django_db
@settings(max_examples=14, deadline=None, suppress_health_check=list(HealthCheck), phases=set(Phase) - {Phase.explain})
@given(st.lists(STEP, min_size=4, max_size=14))
def test_whatever_is_saved_nothing_is_counted_twice_and_nothing_goes_missing(steps: list[tuple[int, int, int, int]]):
    point = transaction.savepoint()
    try:
        world = World()
        check(world)
        for deed, a, b, amount in steps:
            before = BookEntry.objects.count()
            try:
                DEEDS[deed](world, a, b, amount)
            except Refused:
                assert BookEntry.objects.count() == before
            check(world)
        one_entry_more_explains(world)
    finally:
        transaction.savepoint_rollback(point)
