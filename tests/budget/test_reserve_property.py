"""Whatever is drawn, moved, given back, closed and taken back, in whatever order: no money is lost and none is made up."""

import random
from collections.abc import Callable
from typing import Any

import pytest
from django.db.models import Sum

from budget.models import Change, LineItem, Transfer
from budget.selectors import reserve
from budget.services import changes, closing, transfers
from projects.faults import Refused
from projects.models import Project, Role, User
from tests import builders
from tests.budget import reserving
from tests.budget.reserving import let, who
from tests.builders import TODAY

STEPS = 30


class Errands:
    """Deeds drawn by lot; each may be refused, and then nothing has happened."""

    def __init__(self, project: Project, lead: User, seed: int) -> None:
        self.project, self.lead, self.lot = project, lead, random.Random(seed)

    def line(self) -> LineItem:
        return self.lot.choice(list(LineItem.objects.filter(project=self.project).order_by("pk")))

    def one_of(self, rows: list) -> Any:
        if not rows:
            raise Refused("there is nothing to choose from yet")
        return self.lot.choice(rows)

    def amount(self) -> int:
        return self.lot.randint(1, 300_000)

    def raise_and_agree(self) -> None:
        facts = {"reason": self.lot.choice(["unforeseen", "scope gap"]), "paid_from": "contingency"}
        draft = changes.ChangeDraft(line_id=self.line().pk, title="More", amount_minor=self.amount(), **facts)
        changes.raise_change(self.project, draft, role=Role.OWNER, agree=True, **who(self.lead))

    def take_up_again(self) -> None:
        agreed = list(Change.objects.filter(project=self.project, state="agreed").order_by("pk"))
        changes.reopen(self.one_of(agreed), reason="again", **who(self.lead))

    def move(self) -> None:
        terms = {
            "need": self.lot.choice(["unforeseen", "price rise", "owner's wish", ""]),
            "role": self.lot.choice([Role.LEAD, Role.OWNER]),
        }
        transfers.move(
            self.project, from_line_id=self.line().pk, to_line_id=self.line().pk, amount_minor=self.amount(), reason="so",
            **terms, **who(self.lead),
        )  # fmt: skip

    def close(self) -> None:
        closing.close_line(self.line(), note="agreed", **who(self.lead))

    def reopen(self) -> None:
        closing.reopen_line(self.line(), reason="late", **who(self.lead))

    def give_back(self) -> None:
        transfers.give_back(self.line(), amount_minor=self.amount(), reason="saved", **who(self.lead))

    def take_back(self) -> None:
        rows = list(Transfer.objects.filter(project=self.project).order_by("pk"))
        transfers.take_back(self.one_of(rows), reason="slip", **who(self.lead))

    def step(self) -> tuple[str, bool]:
        deeds: list[Callable[[], None]] = [
            self.raise_and_agree, self.raise_and_agree, self.take_up_again, self.move, self.move, self.close, self.reopen,
            self.give_back, self.take_back,
        ]  # fmt: skip
        deed = self.lot.choice(deeds)
        return deed.__name__, any(self._went(deed) for _try in range(6))

    def _went(self, deed: Callable[[], None]) -> bool:
        try:
            deed()
        except Refused:
            return False
        return True


def must_hold(project: Project, budget: int) -> None:
    lines = LineItem.objects.filter(project=project)
    sums = lines.aggregate(budget=Sum("budget_minor"), moved=Sum("moved_minor"))
    assert (sums["budget"], sums["moved"]) == (budget, 0)
    aside = [line for line in lines if line.kind == LineItem.Kind.CONTINGENCY]
    assert all(line.likely_minor == line.budget_minor + line.moved_minor >= 0 for line in aside)
    seen = reserve.reserve(project, today=TODAY)
    assert seen is not None and seen.left == sum(line.likely_minor for line in aside)
    assert sum(draw.amount for draw in seen.pot.draws) == seen.drawn
    assert reserving.whole(project)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_nothing_is_lost_and_nothing_made_up(lead: User, seed: int):
    project = reserving.build(lead, contingency=6_000)
    builders.line(project, "L0199", budget=1_000, kind=LineItem.Kind.CONTINGENCY)
    for number, agreed in enumerate((900, 2_000, 3_500), start=1):
        let(project, f"L010{number}", budget=2_500, agreed=agreed)
    builders.line(project, "L0201", budget=4_000)
    errands, done = Errands(project, lead, seed), set()
    for _step in range(STEPS):
        name, went = errands.step()
        done |= {name} if went else set()
        must_hold(project, 6_000_00 + 1_000_00 + 3 * 2_500_00 + 4_000_00)
    assert len(done) >= 6, "the lot has to do most kinds of deeds, or it proves little"
