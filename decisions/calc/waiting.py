"""What it costs to wait with a decision: what each later day of the answer does, beside an answer in time.

The network is worked out with the answer on that day, and nothing else changed; the opening moves as it then moves, and the
float is what the works lose to it. A price that has run out has to be asked for anew: it is not known, so no sum is made up
for it; the amount that loses its price is told (ADR 0406).
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from decisions.calc import deciding_by, in_plan
from decisions.calc.facts import PlanEffect
from schedule.calc.alter import Alteration
from schedule.calc.network import Network

WEEKS = 8


@dataclass(frozen=True, slots=True)
class Price:
    """The price of an option that holds until a day [minor units]."""

    option: str
    vendor: str
    amount_minor: int
    until: date


@dataclass(frozen=True, slots=True)
class Closure:
    """Days on which those rest who do the work that waits, or make what it needs."""

    first: date
    last: date
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Held:
    """An activity that waits for the answer, and what lies between: see `deciding_by.earliest_start`.

    `answers` tells that it stands for the answer itself; its own float is there to be used, and is not counted.
    """

    code: str
    lead_days: int = 0
    approval_days: int = 0
    closed: tuple[deciding_by.Closed, ...] = ()
    answers: bool = False


@dataclass(frozen=True, slots=True)
class Point:
    """An answer on a day: what it costs against the plan as it stands [minor units, days].

    `expired` are the prices that have run out by then, `moved_days` how much later the opening is [calendar days], float in
    working days of the activity that loses most. `crossed` are closures that begin by then, so that they are waited out.
    """

    on: date
    expired: tuple[Price, ...] = ()
    moved_days: int = 0
    float_days: int = 0
    float_used: int = 0
    days_minor: int = 0
    crossed: tuple[Closure, ...] = ()

    @property
    def price_minor(self) -> int:
        """The largest sum that has lost its price: one option is built, so the sums of several are not added."""
        return max((sum(p.amount_minor for p in self.expired if p.option == key) for key in self.keys), default=0)

    @property
    def keys(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(price.option for price in self.expired))

    @property
    def harms(self) -> bool:
        return bool(self.expired or self.moved_days or self.float_used or self.crossed)


def points(today: date, weeks: int = WEEKS) -> tuple[date, ...]:
    """The days that are looked at: this day of the week, from a week on.

    >>> [day.isoformat() for day in points(date(2027, 1, 29), 2)]
    ['2027-02-05', '2027-02-12']
    """
    return tuple(today + timedelta(weeks=week) for week in range(1, weeks + 1))


def waiting(
    days: Sequence[date], *, today: date, prices: Iterable[Price] = (), closures: Iterable[Closure] = (),
    plan: Network | None = None, held: Iterable[Held] = (), cost_of_day_minor: int = 0,
) -> tuple[Point, ...]:  # fmt: skip
    """Say what an answer costs on each of some days.

    Args:
        days: on which it may come.
        prices: of the options on the table, that hold today.
        closures: of those who wait for the answer, that are still ahead; `today` is the first day not waited out yet.
        plan: the network as it stands, or None where no work is tied to the decision.
        held: the activities that cannot begin before the answer; one without length falls on its day.
        cost_of_day_minor: of one calendar day of later opening [minor units].
    Returns: one point a day, in the order given.
    Raises: BadNetwork.
    Source: our rule, ADR 0406.

    >>> quote = Price("A", "Quarry", 900000, date(2027, 2, 9))
    >>> [p.price_minor for p in waiting(points(date(2027, 1, 29), 2), today=date(2027, 1, 29), prices=[quote])]
    [0, 900000]
    """
    quoted, rests = list(prices), list(closures)
    moves = _moves(days, plan, list(held))
    return tuple(
        Point(
            on=day,
            expired=tuple(price for price in quoted if price.until < day),
            moved_days=moved.moved_days if moved else 0,
            float_days=moved.float_days if moved else 0,
            float_used=moved.float_used if moved else 0,
            days_minor=(moved.moved_days if moved else 0) * cost_of_day_minor,
            crossed=tuple(rest for rest in rests if today < rest.first <= day),
        )
        for day, moved in zip(days, moves, strict=True)
    )


def _moves(days: Sequence[date], plan: Network | None, held: Sequence[Held]) -> Sequence[PlanEffect | None]:
    if plan is None or not held:
        return [None] * len(days)
    beside = {work.code for work in held if work.answers}
    return in_plan.effects(plan, [answered(plan, held, day) for day in days], beside=beside)


def answered(plan: Network, held: Iterable[Held], day: date) -> Alteration:
    """The answer on a day: what waits for it can begin once what lies between is over, and no earlier than it could.

    >>> from schedule.calc.network import Activity
    >>> plan = Network(date(2027, 2, 1), activities=(Activity("slab", 9),))
    >>> answered(plan, [Held("slab")], date(2027, 2, 5)).not_before
    {'slab': datetime.date(2027, 2, 6)}
    """
    known = {activity.id: activity.not_before for activity in plan.activities if activity.started_on is None}
    found = {}
    for work in held:
        if work.code in known:
            start = deciding_by.earliest_start(
                day, lead_days=work.lead_days, approval_days=work.approval_days, closed=work.closed
            )
            found[work.code] = max(start, known[work.code] or start)
    return Alteration(not_before=found)
