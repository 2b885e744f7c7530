"""Until when to decide: worked by hand, day by day, and against the network itself (ADR 0406)."""

from datetime import date, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from decisions.calc import deciding_by, in_plan, waiting
from decisions.calc.deciding_by import Answer, Work
from decisions.calc.waiting import Closure, Held, Price
from schedule.calc import alter, calendars
from schedule.calc.calendars import Calendar
from schedule.calc.network import Activity, Link, Network, solve_network

TODAY = date(2027, 1, 29)  # a Friday
FLOOR = Work("A72", date(2027, 4, 20), date(2027, 4, 26))


def test_the_first_quote_to_run_out_is_the_best_price():
    found = deciding_by.decide_by(expiries=[date(2027, 3, 5), date(2027, 2, 12)])
    assert found == deciding_by.DecideBy(best_price_until=date(2027, 2, 12))


def test_lead_time_comes_off_the_start():
    """20 April less 28 days is 23 March, so the answer is due on the 22nd; for B the eve of the start is enough."""
    found = deciding_by.decide_by(expiries=(), works=[FLOOR], leads={"A": 28, "B": 0})
    assert (found.no_harm_until, found.too_late_after) == (date(2027, 3, 22), date(2027, 3, 28))
    assert found.by_option == {"A": date(2027, 3, 28), "B": date(2027, 4, 25)} and found.differs


def test_lead_time_that_the_plan_has_is_not_taken_off_twice():
    made = Work("A62", date(2027, 2, 8), date(2027, 3, 15), brings=True, approval_days=10)
    install = Work("A63", date(2027, 4, 1), date(2027, 5, 6))
    found = deciding_by.decide_by(expiries=(), works=[made, install], leads={"A": 49})
    assert (found.no_harm_until, found.too_late_after) == (date(2027, 1, 28), date(2027, 3, 4))
    assert found.first == "A62"


def test_a_closure_is_counted_on_top_of_the_lead_time():
    """7 days before Monday 22 February: 21, 20, then 14 to 10 around the week the works are closed."""
    rest = (date(2027, 2, 15), date(2027, 2, 19))
    assert deciding_by.latest_answer(date(2027, 2, 22), lead_days=7, closed=[rest]) == date(2027, 2, 9)


def test_the_float_of_the_answer_itself_counts():
    answer = Answer(free_until=date(2027, 2, 26), late_on=date(2027, 3, 7))
    found = deciding_by.decide_by(expiries=(), works=[FLOOR], answer=answer, leads={"A": 0})
    assert (found.no_harm_until, found.too_late_after) == (date(2027, 2, 26), date(2027, 3, 7))


SPANS = st.lists(
    st.tuples(st.integers(-60, 60), st.integers(0, 20)).map(
        lambda one: (TODAY + timedelta(days=one[0]), TODAY + timedelta(days=sum(one)))
    ),
    max_size=3,
)


@given(st.integers(-30, 60), st.integers(0, 40), st.integers(0, 15), SPANS)
def test_the_latest_answer_is_the_last_that_is_in_time(start, lead, approval, closed):
    """Brute force: go forward from each day, and take the last from which the work starts in time."""
    begins = TODAY + timedelta(days=start)
    told = {"lead_days": lead, "approval_days": approval, "closed": closed}
    latest = deciding_by.latest_answer(begins, **told)

    def starts(day: date) -> date:
        day, left = day + timedelta(days=1 + approval), lead
        while left:
            left -= 0 if any(first <= day <= last for first, last in closed) else 1
            day += timedelta(days=1)
        return day

    assert starts(latest) <= begins < starts(latest + timedelta(days=1))
    assert deciding_by.earliest_start(latest, **told) == starts(latest)


CREW = Calendar("crew", frozenset({1, 2, 3, 4, 5}))
SEVEN = Calendar("seven")


@st.composite
def plans(draw: st.DrawFn) -> Network:
    """An answer on weekdays, and work of two calendars after it and beside it."""
    length = st.integers(1, 9)

    def work(name: str, *after: Link) -> Activity:
        return Activity(name, draw(length), draw(st.sampled_from(["crew", "seven"])), after)

    lag = Link("answer", "FS", draw(st.integers(0, 5)), draw(st.booleans()))
    on = TODAY + timedelta(days=draw(st.integers(0, 20)))
    return Network(
        TODAY,
        activities=(
            Activity("answer", 0, "crew", not_before=on + timedelta(days=1)),
            work("frame", lag),
            work("slab"),
            work("dig"),
            work("set", Link("frame"), Link("slab")),
            work("open", Link("set"), Link("dig")),
        ),
        calendars={"crew": CREW, "seven": SEVEN},
        default_calendar="crew",
        data_on=TODAY,
    )


@given(plans())
@settings(max_examples=80, deadline=None)
def test_the_float_of_the_answer_is_what_the_network_bears(plan):
    """The network itself: an answer by then moves nothing, or not the finish; a working day later it does."""
    stands = solve_network(plan)
    seen = stands.of("answer")

    def with_answer(day: date):
        return solve_network(alter.apply(plan, waiting.answered(plan, [Held("answer")], day)))

    def dates(solution):
        return {id_: o.early_start for id_, o in solution.activities.items() if id_ != "answer"}

    late = seen.late_finish
    if late >= TODAY:
        assert with_answer(late).finish == stands.finish
    after = calendars.on_or_after(CREW, late + timedelta(days=1))
    assert with_answer(after).finish > stands.finish
    free = seen.early_finish
    if seen.free_float > 0:
        free = calendars.step(CREW, free + timedelta(days=1), seen.free_float - 1)
    assert dates(with_answer(free)) == dates(stands)


# --- what waiting costs -----------------------------------------------------------------------------------------


def hall() -> Network:
    """Frame 5 days beside a slab of 15, then setting 2: ready on Tuesday 23 February, the frame with 10 days of float."""
    works = (
        Activity("answer", 0, "crew"),
        Activity("frame", 5, "crew", (Link("answer"),)),
        Activity("slab", 15, "crew"),
        Activity("set", 2, "crew", (Link("frame"), Link("slab"))),
    )
    return Network(TODAY, activities=works, calendars={"crew": CREW}, default_calendar="crew", data_on=TODAY)


def test_waiting_eats_float_and_then_moves_the_opening():
    """Answers on four Fridays: the frame starts on the Mondays 8, 15 and 22 February and 1 March.

    It loses 6 of its 10 days, then all: started on the 15th it ends on Friday 19 February with the slab. The
    rest moves the opening, by calendar days. The answer's own float is not asked for.
    """
    found = waiting.waiting(
        waiting.points(TODAY, 4),
        today=TODAY,
        plan=hall(),
        held=[Held("answer", answers=True)],
        cost_of_day_minor=900_00,
    )
    assert [(p.float_used, p.float_days, p.moved_days, p.days_minor) for p in found] == [
        (6, 10, 0, 0),
        (10, 10, 1, 900_00),
        (10, 10, 8, 7_200_00),
        (10, 10, 15, 13_500_00),
    ]


def test_prices_that_run_out_are_told_and_not_added_over_options():
    prices = [
        Price("A", "Quarry", 9_000_00, date(2027, 2, 4)),
        Price("A", "Haulage", 500_00, date(2027, 2, 11)),
        Price("B", "Forge", 7_000_00, date(2027, 2, 11)),
    ]
    found = waiting.waiting(waiting.points(TODAY, 2), today=TODAY, prices=prices)
    assert [(p.price_minor, p.keys) for p in found] == [(9_000_00, ("A",)), (9_500_00, ("A", "B"))]


def test_a_quote_holds_on_its_last_day():
    price = Price("A", "Quarry", 9_000_00, date(2027, 2, 5))
    assert waiting.waiting([date(2027, 2, 5)], today=TODAY, prices=[price])[0].expired == ()


def test_a_closure_is_crossed_once_it_has_begun():
    rests = [Closure(date(2027, 2, 6), date(2027, 2, 26), "new year"), Closure(TODAY, TODAY, "begun")]
    found = waiting.waiting(waiting.points(TODAY, 2), today=TODAY, closures=rests)
    assert [[rest.reason for rest in point.crossed] for point in found] == [[], ["new year"]]


@given(plans(), st.integers(0, 60), st.integers(1, 30))
@settings(max_examples=60, deadline=None)
def test_a_later_answer_never_costs_less(plan, first, more):
    days = [TODAY + timedelta(days=first), TODAY + timedelta(days=first + more)]
    one, two = waiting.waiting(days, today=TODAY, plan=plan, held=[Held("answer")], cost_of_day_minor=100)
    assert one.moved_days <= two.moved_days and one.days_minor <= two.days_minor
    assert one.float_used <= two.float_used


def test_waiting_changes_nothing_but_the_answer():
    plan = hall()
    change = waiting.answered(plan, [Held("answer"), Held("gone")], TODAY)
    assert in_plan.effects(plan, [change])[0].moved_days == 0 and set(change.not_before) == {"answer"}
