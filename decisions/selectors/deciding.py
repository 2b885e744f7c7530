"""Until when a decision has to be taken, and what waiting costs, read from the plan as it stands today.

Dates are worked out to the opening as it is expected today; what waits for an answer is in `waiting_work`.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from decisions.calc import deciding_by, waiting
from decisions.calc.deciding_by import DecideBy
from decisions.calc.waiting import Closure, Held, Point, Price
from decisions.selectors import board as boards
from decisions.selectors.plan_today import PlanToday
from decisions.selectors.waiting_work import Tie, Ties
from projects.faults import Refused
from schedule.calc import calendars
from schedule.calc.network import Activity as Work
from schedule.calc.network import Outcome
from schedule.models import Activity
from schedule.models import Closure as ClosureRow
from schedule.selectors import standing

#: Work that is itself the making or the coming of what is ordered.
BRINGS = frozenset({Activity.Kind.FABRICATION, Activity.Kind.DELIVERY})


@dataclass(frozen=True, slots=True)
class Deadline:
    """The three dates of a decision, and the days that are left to each; None where nothing says so."""

    dates: DecideBy
    ties: Ties
    today: date

    @property
    def is_known(self) -> bool:
        return bool(self.dates.best_price_until or self.dates.no_harm_until or self.dates.too_late_after)

    @property
    def first(self) -> Tie | None:
        """The work that has to begin first."""
        return next((work for work in self.ties.works if work.code == self.dates.first), None)

    @property
    def price_days(self) -> int | None:
        return self._left(self.dates.best_price_until)

    @property
    def harm_days(self) -> int | None:
        return self._left(self.dates.no_harm_until)

    @property
    def late_days(self) -> int | None:
        return self._left(self.dates.too_late_after)

    @property
    def late_options(self) -> tuple[tuple[str, date], ...]:
        """The day of each option, the earliest first, where they differ."""
        return tuple(sorted(self.dates.by_option.items(), key=lambda one: one[1])) if self.dates.differs else ()

    def _left(self, on: date | None) -> int | None:
        return (on - self.today).days if on else None


def deadlines(laid: Iterable[boards.Board], *, today: date) -> dict[int, Deadline]:
    """The three dates of some open decisions of one project. Queries: 1 or 2, and 5 where anything waits."""
    return {board.decision.pk: _deadline(board, today) for board in laid}


def _deadline(board: boards.Board, today: date) -> Deadline:
    ties = board.plan_today.ties(board.decision)
    works = [work for tie in ties.works if (work := _work(tie, board)) is not None]
    dates = deciding_by.decide_by(
        expiries=[price.until for price in prices(board)],
        works=works,
        answer=_answer(ties.answer, board) if ties.answer else None,
        leads={option.key: option.lead_days or 0 for option in board.options},
    )
    return Deadline(dates, ties, today)


def prices(board: boards.Board) -> list[Price]:
    """The quotes of the options on the table that hold until a day, also those that have run out."""
    return [
        Price(option.key, item.quote.vendor.name, board.price(item), item.quote.valid_until)
        for option in board.options
        for item in board.items[option.pk]
        if item.quote is not None and item.quote.valid_until is not None
    ]


def _outcome(tie: Tie, board: boards.Board) -> Outcome | None:
    plan = board.plan_today
    if plan.read is None or tie.code not in plan.read.rows:
        return None
    solution = plan.solution(board.decision)
    return solution.of(tie.code) if solution else None


def _work(tie: Tie, board: boards.Board) -> deciding_by.Work | None:
    seen = _outcome(tie, board)
    if seen is None:
        return None
    return deciding_by.Work(
        code=tie.code,
        early_start=seen.early_start,
        late_start=seen.late_start,
        brings=tie.kind in BRINGS,
        approval_days=tie.approval_days,
        closed=_calendar(board.plan_today, tie.code).closed,
    )


def _calendar(plan: PlanToday, code: str) -> calendars.Calendar:
    network = plan.read.network if plan.read else None
    if network is None:
        return calendars.EVERY_DAY
    work: Work = next(one for one in network.activities if one.id == code)
    name = work.calendar or network.default_calendar
    return calendars.EVERY_DAY if work.elapsed or not name else network.calendars[name]


def _answer(tie: Tie, board: boards.Board) -> deciding_by.Answer | None:
    """How late the answer may come by the float of its own activity."""
    seen = _outcome(tie, board)
    if seen is None:
        return None
    free = seen.early_finish
    if seen.free_float > 0:
        free = calendars.step(_calendar(board.plan_today, tie.code), free + timedelta(days=1), seen.free_float - 1)
    return deciding_by.Answer(free, seen.late_finish)


def waiting_costs(board: boards.Board, *, option: str | None, today: date) -> tuple[Point, ...]:
    """What an open decision costs on later days, a week apart. Queries: 1 where work waits for it, beside the plan's.

    Args:
        option: the one whose lead time counts, the lowest that may be built; None for none.
    """
    days = waiting.points(today)
    lead = next((row.lead_days or 0 for row in board.options if row.key == option), 0)
    held = _held(board.plan_today.ties(board.decision), board.plan_today, lead)
    read = board.plan_today.read if held else None
    told: dict[str, Any] = {
        "today": today,
        "prices": [price for price in prices(board) if price.until >= today],
        "closures": _closures(board, held, days[-1]) if held else (),
        "cost_of_day_minor": board.project.cost_of_day_minor,
    }
    try:
        network = board.plan_today.network(board.decision) if read else None
        with standing.refusing(read.names if read else {}):
            return waiting.waiting(days, plan=network, held=held, **told)
    except Refused:  # a plan without an answer says so on its own page
        return waiting.waiting(days, **told)


def _held(ties: Ties, plan: PlanToday, lead_days: int) -> list[Held]:
    rows = [ties.answer, *ties.works] if ties.answer else list(ties.works)
    if not rows or plan.read is None:
        return []
    brought = any(tie.kind in BRINGS for tie in ties.works)
    found = []
    for tie in rows:
        if tie.code in plan.read.rows:
            lead = 0 if brought or tie is ties.answer else lead_days
            closed = _calendar(plan, tie.code).closed
            found.append(Held(tie.code, lead, tie.approval_days, closed if lead else (), answers=tie is ties.answer))
    return found


def _closures(board: boards.Board, held: Sequence[Held], until: date) -> list[Closure]:
    """Closures ahead of those who do what waits, or make what it needs."""
    names = {_calendar(board.plan_today, work.code).name for work in held}
    rows = ClosureRow.objects.filter(
        calendar__project=board.project, calendar__name__in=names, first_on__gt=board.today, first_on__lte=until
    )
    found = rows.order_by("first_on", "pk").values_list("first_on", "last_on", "reason", "calendar__name")
    return [Closure(first, last, reason or name) for first, last, reason, name in found]
