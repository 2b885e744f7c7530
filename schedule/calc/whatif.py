"""What would be otherwise: the plan as it stands beside the plan with something changed in it.

Both are the same network, worked out twice; nothing is saved. The days are told against the present forecast and, where
there is a day to open on, against that; a day costs the same whichever way the finish moves, so that days won are money saved
(below zero). What waits, what can be done meanwhile and whom to call follow from the two sets of dates (ADR 0405).
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from schedule.calc import alter, calendars, network
from schedule.calc.alter import Alteration
from schedule.calc.calendars import EVERY_DAY, Calendar
from schedule.calc.network import Activity, Network, Outcome, Solution

#: How far ahead people are called, and how far ahead other work is looked for [calendar days]; our rule.
CALL_DAYS, MEANWHILE_DAYS = 21, 14
#: Kinds of activity that a crew on site does, and so could do earlier.
ON_SITE = frozenset({"work", "pour", "test", "inspection"})
NOBODY_COMES = frozenset({"cure", "decision", "milestone"})


@dataclass(frozen=True, slots=True)
class Told:
    """What is known of an activity beside its days: words, who does it and who attends."""

    name: str = ""
    kind: str = "work"
    trade: str = ""
    area: str = ""
    covers: bool = False
    attended_by: str = ""
    notice_days: int = 0


@dataclass(frozen=True, slots=True)
class Move:
    """An activity of both plans, of which a date or the float differs. Floats are to each plan's own finish."""

    code: str
    before: Outcome
    after: Outcome

    @property
    def start_days(self) -> int:
        """How much later it starts [calendar days]; below zero for earlier."""
        return (self.after.early_start - self.before.early_start).days

    @property
    def finish_days(self) -> int:
        return (self.after.early_finish - self.before.early_finish).days

    @property
    def float_before(self) -> int:
        return self.before.float_to_finish

    @property
    def float_after(self) -> int:
        return self.after.float_to_finish

    @property
    def eaten(self) -> int:
        """Float used up [working days of its calendar]; below zero where it has more than before."""
        return self.float_before - self.float_after

    @property
    def moves(self) -> bool:
        return bool(self.start_days or self.finish_days)


@dataclass(frozen=True, slots=True)
class Answer:
    """What a change comes to. Money is in minor units; above zero costs, below zero saves."""

    finish_before: date
    finish_after: date
    target: date | None
    cost_of_day_minor: int
    cost_minor: int
    #: Activities that differ, in the order of the changed plan.
    moved: tuple[Move, ...]
    #: Activities whose own days, place or calendar are changed, as far as they are in both plans.
    touched: tuple[Move, ...]
    added: tuple[str, ...]
    removed: tuple[str, ...]
    network: Network = field(repr=False)
    solution: Solution = field(repr=False)

    @property
    def days(self) -> int:
        """How much later the finish is than the present forecast [calendar days]; below zero for earlier."""
        return (self.finish_after - self.finish_before).days

    @property
    def late_before(self) -> int | None:
        """Days after the target, as things stand; None without a target."""
        return None if self.target is None else (self.finish_before - self.target).days

    @property
    def late_after(self) -> int | None:
        return None if self.target is None else (self.finish_after - self.target).days

    @property
    def days_minor(self) -> int:
        """What the move of the finish costs."""
        return self.days * self.cost_of_day_minor

    @property
    def net_minor(self) -> int:
        """The days and the direct cost together."""
        return self.days_minor + self.cost_minor

    @property
    def tightest(self) -> Move | None:
        """The changed activity with the least float left of those that lost some; what "how much is used" is about."""
        losing = [move for move in self.touched if move.eaten > 0]
        return min(losing, key=lambda move: (move.float_after, -move.eaten), default=None)

    @property
    def eaters(self) -> tuple[Move, ...]:
        """Activities that lost float, the one with the least left first."""
        losing = (move for move in self.moved if move.eaten > 0 and not _done(self.network, move.code))
        return tuple(sorted(losing, key=lambda move: (move.float_after, -move.eaten, move.code)))


def answer(
    plan: Network,
    alteration: Alteration,
    *,
    target: date | None,
    cost_of_day_minor: int,
    cost_minor: int = 0,
    before: Solution | None = None,
) -> Answer:
    """Work a plan out with something changed, and hold it against the plan as it stands.

    Args:
        plan: the plan as it stands, without a day to finish by.
        target: the day it is to open on, or None.
        cost_of_day_minor: what one calendar day of later opening costs [minor units], at least 0.
        cost_minor: what the change itself costs [minor units]; below zero saves.
        before: the plan as it stands, worked out already; saves working it out again.
    Raises: network.BadNetwork, network.CircleOfWork, alter's own faults where an id is not known.
    Source: our rule, ADR 0405.
    """
    stands = before or network.solve_network(plan)
    changed = alter.apply(plan, alteration)
    found = network.solve_network(changed)
    kept = {one.id for one in changed.activities}
    known = {one.id for one in plan.activities}
    both = [Move(one.id, stands.of(one.id), _whole(found, one.id)) for one in changed.activities if one.id in known]
    own, parts = touched(plan, changed), {alter.first_part(code) for code in alteration.splits}
    return Answer(
        finish_before=stands.finish,
        finish_after=found.finish,
        target=target,
        cost_of_day_minor=cost_of_day_minor,
        cost_minor=cost_minor,
        moved=_in_order(move for move in both if move.moves or move.eaten),
        touched=_in_order(move for move in both if move.code in own),
        added=tuple(one.id for one in changed.activities if one.id not in known | parts),
        removed=tuple(one.id for one in plan.activities if one.id not in kept),
        network=changed,
        solution=found,
    )


def _whole(found: Solution, code: str) -> Outcome:
    """The outcome of an activity; of one that is split, from the start of its first part."""
    dates, first = found.of(code), found.activities.get(alter.first_part(code))
    return dates if first is None else replace(dates, early_start=first.early_start, late_start=first.late_start)


def _in_order(moves: Iterable[Move]) -> tuple[Move, ...]:
    return tuple(sorted(moves, key=lambda move: (move.after.early_start, move.after.early_finish, move.code)))


def touched(plan: Network, changed: Network) -> frozenset[str]:
    """Activities of both plans that are themselves otherwise, or work by a calendar that is.

    A change of links alone does not count: an activity that merely follows on something else is moved, not changed.
    """
    before = {one.id: one for one in plan.activities}
    other = {name for name in plan.calendars if plan.calendars[name] != changed.calendars.get(name)}
    return frozenset(
        one.id
        for one in changed.activities
        if one.id in before and (_own(one) != _own(before[one.id]) or _works_by(one, changed, other))
    )


def _own(one: Activity) -> tuple[object, ...]:
    return one.duration, one.calendar, one.not_before, one.elapsed, one.slip


def _works_by(one: Activity, plan: Network, names: set[str]) -> bool:
    return not one.elapsed and not one.finished_on and (one.calendar or plan.default_calendar) in names


def _done(plan: Network, code: str) -> bool:
    return any(one.id == code and one.finished_on for one in plan.activities)


def waits(found: Answer) -> tuple[Move, ...]:
    """Activities that start later than they would have, in the order of their new starts."""
    return tuple(move for move in found.moved if move.start_days > 0)


def followers(plan: Network, codes: Iterable[str]) -> frozenset[str]:
    """Everything that waits for some activities, directly or through others, with the activities themselves."""
    after: dict[str, list[str]] = defaultdict(list)
    for one in plan.activities:
        for link in one.after:
            after[link.before].append(one.id)
    found, due = set(codes), list(codes)
    while due:
        fresh = [code for code in after[due.pop()] if code not in found]
        found.update(fresh)
        due.extend(fresh)
    return frozenset(found)


@dataclass(frozen=True, slots=True)
class Meanwhile:
    """Work that could be done while other work waits."""

    code: str
    dates: Outcome
    same_trade: bool
    same_area: bool

    @property
    def float_days(self) -> int:
        return self.dates.float_to_finish


def meanwhile(found: Answer, told: Mapping[str, Told], *, today: date) -> tuple[Meanwhile, ...]:
    """Work that the trades which wait, or others in the same place, can do instead; least float first.

    It has not begun, does not hang on what is late, can start within two weeks of the first start that is missed,
    and is not over by then. Milestones, curing and what is made or carried elsewhere are left out.

    Args:
        told: what is known of each activity; one that is missing is left out.
        today: nothing is pulled forward into the past.
    Source: our rule, ADR 0405.
    """
    late = [move for move in found.moved if move.start_days > 0 or move.finish_days > 0]
    if not late:
        return ()
    gap = max(today, min(_missed(move) for move in late))
    codes = {move.code for move in late}
    trades = {told[code].trade for code in codes if code in told} - {""}
    areas = {told[code].area for code in codes if code in told} - {""}
    barred = followers(found.network, codes | {move.code for move in found.touched})
    rows = []
    for one in found.network.activities:
        know = told.get(one.id)
        if know is None or one.id in barred or not _could(one, know, found.solution.of(one.id), gap):
            continue
        row = Meanwhile(one.id, found.solution.of(one.id), know.trade in trades, know.area in areas)
        rows += [row] if row.same_trade or row.same_area else []
    return tuple(sorted(rows, key=lambda row: (row.float_days, row.dates.early_start, row.code)))


def _missed(move: Move) -> date:
    """The first day on which a crew has nothing to do that it had: its start, else the day after it was to be done."""
    return move.before.early_start if move.start_days > 0 else move.before.early_finish + timedelta(days=1)


def _could(one: Activity, know: Told, dates: Outcome, gap: date) -> bool:
    on_site = know.kind in ON_SITE and one.duration > 0 and not one.elapsed
    ready = dates.early_start <= gap + timedelta(days=MEANWHILE_DAYS)
    return on_site and one.started_on is None and ready and dates.early_finish >= gap


@dataclass(frozen=True, slots=True)
class Call:
    """Somebody who is to hear that a day has moved, and by when."""

    who: str
    code: str
    start_before: date
    start_after: date
    notice_days: int
    #: The last day on which the notice they ask for is still kept; never before today.
    by_on: date
    #: They asked for more notice than there is left.
    short: bool


def calls(found: Answer, told: Mapping[str, Told], *, today: date) -> tuple[Call, ...]:
    """Whom to call: who does or attends an activity that moves and was, or now is, due within three weeks; first to call first.

    Source: three weeks and the rule for the last day are ours, ADR 0405; trades are commonly called two weeks, one week and a
    day ahead.
    """
    rows = [
        _call(who, move, told[move.code].notice_days, found.network, today)
        for move in found.moved
        if move.start_days and move.code in told and _soon(move, today)
        for who in _people(told[move.code])
    ]
    return tuple(sorted(rows, key=lambda call: (call.by_on, call.start_before, call.code, call.who)))


def _soon(move: Move, today: date) -> bool:
    first = min(move.before.early_start, move.after.early_start)
    return first <= today + timedelta(days=CALL_DAYS)


def _people(know: Told) -> tuple[str, ...]:
    """Who comes: the trade, but for curing and milestones, and whoever attends, who alone counts at an inspection."""
    alone = know.kind == "inspection" and know.attended_by
    trade = "" if alone or know.kind in NOBODY_COMES else know.trade
    return tuple(dict.fromkeys(who for who in (trade, know.attended_by) if who))


def _call(who: str, move: Move, notice: int, plan: Network, today: date) -> Call:
    first = min(move.before.early_start, move.after.early_start)
    last = calendars.step(working(plan), first, -max(1, notice))
    return Call(who, move.code, move.before.early_start, move.after.early_start, notice, max(last, today), last < today)


def working(plan: Network) -> Calendar:
    """The calendar that notice is counted in: the project's own."""
    return plan.calendars.get(plan.default_calendar, EVERY_DAY)
