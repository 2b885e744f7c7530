"""Until when a decision has to be taken, as three dates: best price until, no harm until, too late after.

The answer comes at the end of a day; what waits for it can begin the day after. Where the plan has an activity that stands
for the answer, its own float says how late the answer may come. Work that needs things ordered first needs the answer
earlier by the time they take to come; where the plan has that time as an activity of its own, it is not taken off twice
(ADR 0406).
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

Closed = tuple[date, date]


@dataclass(frozen=True, slots=True)
class Answer:
    """The activity that stands for the answer: the last day it may come without moving anything, and without moving the opening."""

    free_until: date
    late_on: date


@dataclass(frozen=True, slots=True)
class Work:
    """An activity that waits for the answer, and has not begun.

    `brings` tells that it is itself the making or the coming of what is ordered. `approval_days` [calendar days] are needed
    between the answer and its start; `closed` are the closures of its calendar, both ends included.
    """

    code: str
    early_start: date
    late_start: date
    brings: bool = False
    approval_days: int = 0
    closed: tuple[Closed, ...] = ()


@dataclass(frozen=True, slots=True)
class DecideBy:
    """The three dates, each None where nothing says so, and for each option the day after which it is too late."""

    best_price_until: date | None = None
    no_harm_until: date | None = None
    too_late_after: date | None = None
    first: str = ""
    by_option: Mapping[str, date] = field(default_factory=dict)

    @property
    def differs(self) -> bool:
        """Tell whether some options can be chosen later than others."""
        return len(set(self.by_option.values())) > 1


def decide_by(
    *, expiries: Iterable[date], works: Sequence[Work] = (), answer: Answer | None = None, leads: Mapping[str, int] | None = None
) -> DecideBy:  # fmt: skip
    """Find the three dates.

    Args:
        expiries: the last days of the quotes of the options on the table.
        works: what waits for the answer.
        answer: where the plan has an activity for it.
        leads: {option: days from order to site [calendar days]}; an option that takes no time at all may be left out.
    Returns: `best_price_until` the first expiry; `no_harm_until` the last day on which the answer moves no date of the plan,
        whichever option it is; `too_late_after` the last day on which the opening stays, whichever option it is, and the
        same for each option. `first` is the work that has to begin first.
    Source: our rule, ADR 0406.

    >>> floor = Work("A72", date(2027, 4, 20), date(2027, 4, 26))
    >>> found = decide_by(expiries=[date(2027, 3, 5)], works=[floor], leads={"A": 28, "B": 0})
    >>> found.no_harm_until.isoformat(), found.too_late_after.isoformat(), found.by_option["B"].isoformat()
    ('2027-03-22', '2027-03-28', '2027-04-25')
    """
    given = dict(leads or {})
    longest = max(given.values(), default=0)
    brought = any(work.brings for work in works)
    free = [answer.free_until] if answer else []
    free += [_latest(work, work.early_start, 0 if brought else longest) for work in works]
    by_option = {}
    for option, lead in (given or {"": 0}).items():
        last = [answer.late_on] if answer else []
        last += [_latest(work, work.late_start, 0 if brought else lead) for work in works]
        if last:
            by_option[option] = min(last)
    first = min(works, key=lambda work: (work.late_start, work.code), default=None)
    return DecideBy(
        best_price_until=min(expiries, default=None),
        no_harm_until=min(free, default=None),
        too_late_after=min(by_option.values(), default=None),
        first=first.code if first else "",
        by_option={option: last for option, last in by_option.items() if option},
    )


def _latest(work: Work, start: date, lead_days: int) -> date:
    return latest_answer(start, lead_days=lead_days, approval_days=work.approval_days, closed=work.closed)


def latest_answer(start: date, *, lead_days: int, approval_days: int = 0, closed: Sequence[Closed] = ()) -> date:
    """Give the last day on which an answer can come for some work to start in time.

    Args:
        start: the day the work starts.
        lead_days: from the order to site [calendar days], counted on days outside the closures; the day after the answer is
            the first of the approval, the day after that of the lead time, and the work starts after the last of it.
        approval_days: between the answer and the order [calendar days].
        closed: spans in which nothing is made, both ends included.
    Source: our rule, ADR 0406; common practice counts a maker's closures on top of the lead time.

    >>> latest_answer(date(2027, 2, 22), lead_days=7, closed=[(date(2027, 2, 15), date(2027, 2, 19))]).isoformat()
    '2027-02-09'
    """
    ordered, left = start, lead_days
    while left > 0:
        ordered -= timedelta(days=1)
        left -= not any(first <= ordered <= last for first, last in closed)
    return ordered - timedelta(days=1 + approval_days)


def earliest_start(answer: date, *, lead_days: int, approval_days: int = 0, closed: Sequence[Closed] = ()) -> date:
    """Give the first day on which work can start after an answer; arguments as of `latest_answer`, which it undoes.

    >>> earliest_start(date(2027, 2, 9), lead_days=7, closed=[(date(2027, 2, 15), date(2027, 2, 19))]).isoformat()
    '2027-02-22'
    """
    start, left = answer + timedelta(days=1 + approval_days), lead_days
    while left > 0:
        left -= not any(first <= start <= last for first, last in closed)
        start += timedelta(days=1)
    return start
