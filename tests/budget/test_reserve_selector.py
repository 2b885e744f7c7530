"""What is read of the contingency, worked by hand, and held against the plain calculation of the whole budget."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from budget.calc import forecast
from budget.models import Change, LineItem, Quote, Risk
from budget.selectors import facts, open_cost, pot, reserve
from budget.services import agreements, changes, lines, quotes, risks, transfers
from projects.models import Project, Role, User
from tests import builders
from tests.budget import reserving
from tests.budget.reserving import change, close, draw, let, move, who
from tests.builders import NOW, TODAY


@pytest.fixture
def project(lead: User) -> Project:
    return reserving.build(lead, cost_of_day=900)


def read(project: Project) -> reserve.Reserve:
    seen = reserve.reserve(project, today=TODAY)
    assert seen is not None
    return seen


def raised(line: LineItem, amount: int, by: User, **terms) -> Change:
    """A change through its own service."""
    facts_of = {
        "line_id": line.pk, "title": f"Change of {amount}", "reason": Change.Reason.UNFORESEEN, "amount_minor": amount * 100,
        "paid_from": Change.Source.CONTINGENCY,
    }  # fmt: skip
    draft = changes.ChangeDraft(**(facts_of | terms))
    return changes.raise_change(line.project, draft, role=Role.LEAD, **who(by))


def agree(made: Change, by: User) -> Change:
    return changes.agree(made, note="seen", role=Role.OWNER, **who(by))


def risk(project: Project, chance: str, cost: int, days: int = 0, **terms) -> Risk:
    draft = risks.RiskDraft(what="Leak", chance=Decimal(chance), cost_minor=cost * 100, days=days, **terms)
    return risks.add_risk(project, draft, **who(builders.lead_of(project)))


def test_nothing_set_aside_has_no_reserve(lead: User):
    assert reserve.reserve(reserving.build(lead, contingency=None), today=TODAY) is None


def test_an_agreed_change_is_drawn_and_named(project: Project, lead: User):
    agree(raised(let(project), 1_170, lead), lead)
    seen = read(project)
    assert (seen.start, seen.drawn, seen.left) == (800_000, 117_000, 683_000)
    (step,) = seen.pot.draws
    assert (str(step.row.change), step.cause, step.amount, step.line.code) == (
        "C01 Change of 1170", "unforeseen condition", 117_000, "L0101",
    )  # fmt: skip


def test_a_change_taken_up_again_leaves_the_pot_as_before(project: Project, lead: User):
    made = agree(raised(let(project), 1_170, lead), lead)
    changes.reopen(made, reason="the price was wrong", **who(lead))
    seen = read(project)
    assert (seen.left, seen.pot.draws, len(seen.pot.taken_back)) == (800_000, (), 1)
    assert seen.likely == 117_000


def test_a_ceiling_that_came_out_lower_gives_the_rest_back(project: Project, lead: User):
    made = agree(raised(let(project), 1_000, lead, is_ceiling=True), lead)
    changes.price(made, amount_minor=70_000, is_ceiling=False, days=0, chance=Decimal(1), note="measured", **who(lead))
    assert read(project).left == 730_000 and reserving.whole(project)


def test_likely_draws_take_their_chance_and_wishes_take_nothing(project: Project, lead: User):
    """1,260 at 80 % is 1,008; the wish of 940 and the credit stay beside the pot."""
    line = let(project)
    raised(line, 1_260, lead, chance=Decimal("0.8"))
    raised(line, 940, lead, reason=Change.Reason.WISH, paid_from=Change.Source.OWNER)
    raised(line, -300, lead, reason=Change.Reason.CUT, paid_from=Change.Source.CREDIT)
    agree(raised(line, 380, lead, reason=Change.Reason.SITE, paid_from=Change.Source.BACK_CHARGE), lead)
    seen = read(project)
    assert (seen.likely, seen.left_after_likely, seen.drawn) == (100_800, 699_200, 0)
    assert (seen.wishes.proposed, seen.wishes.agreed, seen.wishes.total) == (94_000, 0, 94_000)
    assert (seen.back_charges.agreed, len(seen.likely_draws)) == (38_000, 1)


def test_what_a_closed_line_gave_back_is_a_draw_the_other_way(project: Project, lead: User):
    line = close(let(project), lead)
    transfers.give_back(line, amount_minor=50_000, reason="cheaper", **who(lead))
    seen = read(project)
    assert (seen.drawn, seen.left, seen.pot.draws[0].amount) == (-50_000, 850_000, -50_000)
    assert seen.pot.draws[0].cause == "given back when its line was closed"


def test_moves_between_lines_are_no_draws(project: Project, lead: User):
    move(project, builders.line(project, "L0101"), builders.line(project, "L0102"), 100, lead)
    own = builders.line(project, "L0199", budget=0, kind=LineItem.Kind.CONTINGENCY)
    move(project, reserving.pot(project), own, 300, lead)
    seen = read(project)
    assert (len(seen.pot.moves), seen.pot.draws, seen.drawn) == (2, (), 0)


def test_the_levels_of_the_pot_follow_its_days(project: Project, lead: User):
    line = let(project)
    for code, amount, days in (("C01", 1_000, 9), ("C02", 500, 9), ("C03", 250, 0)):
        made, on = change(line, amount, code=code), TODAY - timedelta(days=days)
        transfers.enter_draw(made, by=lead, now=NOW, on=on)
    assert [(level.on, level.left) for level in pot.pot(project).levels] == [
        (TODAY - timedelta(days=9), 650_000),
        (TODAY, 625_000),
    ]


def test_open_risks_stand_by_what_they_cost_on_average(project: Project, lead: User):
    """4 % of 24,000 and nine days at 900 is 1,284; 40 % of 4,500 is 1,800; what passed counts no more."""
    risk(project, "0.04", 24_000, 9)
    risk(project, "0.4", 4_500)
    gone = risk(project, "0.5", 99_000)
    risks.close_risk(gone, state=Risk.State.CLOSED, note="not any more", **who(lead))
    seen = read(project)
    assert [row.expected for row in seen.risks] == [180_000, 128_400] and seen.risk == 308_400
    assert [row.code for row in open_cost.closed_risks(project)] == ["R03"]


def spread_of(project: Project) -> list[tuple[str, int]]:
    return [(row.name.split()[0], row.spread) for row in read(project).spreads]


def test_a_line_without_any_quote_may_go_up_by_a_quarter(project: Project):
    builders.line(project, "L0101", budget=2_000)
    assert spread_of(project) == [("L0101", 50_000)]


def test_a_quoted_line_may_go_up_to_its_highest_complete_quote(project: Project):
    """Of three the middle counts, 9,000: up to 9,800 it may still go."""
    line = builders.line(project)
    for name, amount in (("A", 8_500), ("B", 9_000), ("C", 9_800)):
        builders.quote(line, amount, vendor=name)
    assert spread_of(project) == [("L0101", 80_000)]


def test_a_quote_that_ran_out_is_no_quote_any_more(project: Project):
    line = builders.line(project, budget=2_000)
    old = builders.quote(line, 2_400, on=TODAY - timedelta(days=60))
    assert old.expired(TODAY) and spread_of(project) == [("L0101", 50_000)]


def test_a_preferred_firm_price_binds_and_an_estimate_does_not(project: Project, lead: User):
    firm, loose = builders.line(project, "L0101"), builders.line(project, "L0102")
    for line, basis in ((firm, Quote.Basis.FIRM), (loose, Quote.Basis.ESTIMATE)):
        chosen = builders.quote(line, 9_000, vendor="A", basis=basis)
        builders.quote(line, 9_500, vendor="B")
        quotes.prefer(chosen.lines.get(), preferred=True, **who(lead))
    assert spread_of(project) == [("L0102", 50_000)]


def test_let_lines_and_closed_lines_are_firm(project: Project, lead: User):
    let(project, "L0101")
    close(builders.line(project, "L0102"), lead)
    assert spread_of(project) == []


def test_of_a_line_let_in_part_the_rest_is_open(project: Project, lead: User):
    line = builders.line(project)
    terms = agreements.Terms(still_to_let={line.pk: 200_000})
    agreements.accept_quote(builders.quote(line, 6_000), role=Role.OWNER, terms=terms, **who(lead))
    assert spread_of(project) == [("L0101", 50_000)]


def test_of_a_line_let_by_rates_what_is_not_billed_is_open(project: Project, lead: User):
    line = builders.line(project)
    agreements.accept_quote(builders.quote(line, 6_000, basis=Quote.Basis.RATES), role=Role.OWNER, **who(lead))
    assert spread_of(project) == [("L0101", 150_000)]


def test_left_over_open_is_the_cover(project: Project):
    """8,000 over 4,000 of risk and 2,000 of spread is 1.33: amber."""
    risk(project, "0.5", 8_000)
    builders.line(project, "L0101", budget=8_000)
    seen = read(project)
    assert (seen.open, seen.amber_under, seen.cover.ratio, seen.cover.signal) == (
        600_000,
        900_000,
        Decimal("1.33"),
        "amber",
    )


def test_the_pot_and_what_is_not_covered_are_those_of_the_calculation(project: Project, lead: User):
    line = let(project, "L0101", budget=8_000, agreed=9_000)
    let(project, "L0102", budget=8_000, agreed=7_000)
    draw(change(line, 400), lead)
    lines.estimate(
        builders.line(project, "L0103", budget=100), amount_minor=15_000, basis="felt", on=TODAY, **who(lead)
    )
    whole = forecast.forecast(
        facts.line_facts(project),
        [
            forecast.TransferFact(str(row.from_line_id), str(row.to_line_id), row.amount_minor)
            for row in project.transfers.all()
        ],
        as_of=TODAY,
    )
    seen = read(project)
    assert (seen.start, seen.drawn, seen.left, seen.uncovered) == (
        whole.contingency.start_minor, whole.contingency.drawn_minor, whole.contingency.left_minor, whole.contingency.uncovered_minor,
    )  # fmt: skip
    assert [(row.name, row.over) for row in seen.over] == [
        ("L0101 Work L0101", 100_000),
        ("L0103 Work L0103", 5_000),
    ]


def test_used_against_done(project: Project, lead: User):
    draw(change(let(project), 2_000), lead)
    assert (read(project).pace.used, read(project).pace.done, read(project).pace.faster) == (
        Decimal("0.250"),
        Decimal("0.000"),
        True,
    )


def test_the_number_of_queries_does_not_grow(project: Project, lead: User, django_assert_num_queries):
    def furnish(number: int) -> None:
        line = let(project, f"L{number:04d}")
        draw(change(line, 10, code=f"C{number:02d}"), lead)
        risk(project, "0.5", 100)
        builders.line(project, f"M{number:04d}")
        change(line, 10, code=f"P{number:02d}", state=Change.State.PROPOSED)

    furnish(1)
    with CaptureQueriesContext(connection) as few:
        read(project)
    for number in range(2, 6):
        furnish(number)
    with django_assert_num_queries(len(few)):
        read(project)
    assert len(few) == 8
