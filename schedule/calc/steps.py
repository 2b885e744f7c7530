"""Plain-language steps of a what-if: "somebody is away", "comes late", "takes longer"; each of a kind, about one thing.

Steps stand in the address of a page, so that a question can be sent to a partner, and are put together into one alteration. Days
here are as people say them: a milestone that cannot come before a day falls on that day (ADR 0403).
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from schedule.calc.alter import Alteration
from schedule.calc.network import Activity, BadNetwork, Link, Network
from schedule.calc.plan import FIRST_DAY, LAST_DAY

SIGN = "|"
MOST_DAYS, MOST_STEPS, LONGEST = 3_650, 40, 200
Value = int | date | str


class BadStep(ValueError):
    """A step in an address cannot be read."""


@dataclass(frozen=True, slots=True)
class Step:
    """One thing that happens.

    `kind` is one of `KINDS`, `about` the code of an activity or the name of a calendar, `values` what the kind asks for.
    """

    kind: str
    about: str
    values: tuple[Value, ...] = ()

    @property
    def token(self) -> str:
        """The step as it stands in an address; `read` gives it back."""
        return SIGN.join([self.kind, *map(str, self.values), self.about])


def _days(text: str) -> int:
    if not text.isascii() or not text.isdigit() or int(text[:9]) > MOST_DAYS:
        raise BadStep(text)
    return int(text)


def _some(text: str) -> int:
    found = _days(text)
    if not found:
        raise BadStep(text)
    return found


def _weekday(text: str) -> int:
    if text not in set("1234567"):
        raise BadStep(text)
    return int(text)


def _day(text: str) -> date:
    found = date.fromisoformat(text)
    if not FIRST_DAY <= found <= LAST_DAY:
        raise BadStep(text)
    return found


def _lag(text: str) -> int:
    return -_days(text[1:]) if text.startswith("-") else _days(text)


def _yes(text: str) -> int:
    if text not in {"0", "1"}:
        raise BadStep(text)
    return int(text)


def _link(text: str) -> str:
    if text not in {"FS", "SS", "FF", "SF"}:
        raise BadStep(text)
    return text


#: {kind: how each of its values is read}
KINDS: Mapping[str, tuple[Callable[[str], Value], ...]] = {
    "away": (_day, _day),
    "late": (_some,),
    "length": (_days,),
    "start": (_day,),
    "misses": (_some,),
    "split": (_some, _days, _some),
    "day": (_day,),
    "weekday": (_weekday,),
    "out": (),
    "after": (_link, _lag, _yes, str),
}
#: Kinds that are about a calendar; the others are about an activity.
ABOUT_CALENDARS = frozenset({"away", "day", "weekday"})


def read(token: str) -> Step:
    """Read a step from an address. Raises: BadStep.

    >>> read("misses|2|A29")
    Step(kind='misses', about='A29', values=(2,))
    """
    kind, _, rest = token[:LONGEST].partition(SIGN)
    if kind not in KINDS:
        raise BadStep(token)
    parts = rest.split(SIGN, len(KINDS[kind]))
    if len(parts) != len(KINDS[kind]) + 1 or not parts[-1]:
        raise BadStep(token)
    try:
        values = tuple(read_one(text) for read_one, text in zip(KINDS[kind], parts[:-1], strict=True))
    except ValueError as fault:
        raise BadStep(token) from fault
    if kind == "away" and values[1] < values[0]:  # type: ignore[operator]
        raise BadStep(token)
    return Step(kind, parts[-1], values)


def together(steps: Iterable[Step], plan: Network, *, add: tuple[Activity, ...] = ()) -> Alteration:
    """Put steps together into one alteration; of two about the same thing the later one counts, and late days add up.

    What is left out is left out, whatever else is asked about it.

    Args:
        plan: the plan they are about.
        add: activities that are put in besides.
    Raises: BadNetwork, for an activity that is not in the plan or is done.
    """
    known = {one.id: one for one in plan.activities}
    found: dict[str, Any] = {name: {} for name in ("durations", "not_before", "slips", "splits")}
    lists: dict[str, list[Any]] = {"remove": [], "links": [], "closures": [], "working": []}
    for step in steps:
        if step.kind in ABOUT_CALENDARS:
            _about_calendar(step, lists)
        else:
            _about_activity(step, _open(step, known), found, lists)
    gone = set(lists["remove"])
    kept = {name: {code: value for code, value in told.items() if code not in gone} for name, told in found.items()}
    lists["links"] = [(waiting, link) for waiting, link in lists["links"] if not {waiting, link.before} & gone]
    found = kept | {name: tuple(dict.fromkeys(rows)) for name, rows in lists.items()}
    return Alteration(add=add, **found)


def _open(step: Step, known: Mapping[str, Activity]) -> Activity:
    if step.about not in known:
        raise BadNetwork(f'"{step.about[:60]}" is none of the activities')
    if known[step.about].finished_on:
        raise BadNetwork(f'"{step.about[:60]}" is done, and what is done is not asked about')
    return known[step.about]


def _about_calendar(step: Step, lists: Mapping[str, list[Any]]) -> None:
    if step.kind == "away":
        lists["closures"].append((step.about, *step.values))
    else:
        lists["working"].append((step.about, step.values[0]))


def _about_activity(step: Step, one: Activity, found: Mapping[str, Any], lists: Mapping[str, list[Any]]) -> None:
    first: Any = step.values[0] if step.values else None
    days = found["durations"].get(one.id, one.duration)
    if step.kind == "out":
        lists["remove"].append(one.id)
    elif step.kind == "after":
        kind, lag, elapsed, before = step.values
        lists["links"].append((one.id, Link(str(before), str(kind), int(str(lag)), bool(elapsed))))
    elif step.kind == "split":
        found["splits"][one.id] = step.values
    elif step.kind == "length":
        found["durations"][one.id] = first
    elif step.kind == "late" and days:
        found["durations"][one.id] = days + first
    elif step.kind in ("late", "misses"):
        found["slips"][one.id] = found["slips"].get(one.id, 0) + first
    else:
        found["not_before"][one.id] = first if days else first + timedelta(days=1)


def apart(alteration: Alteration, plan: Network) -> tuple[Step, ...]:
    """Tell an alteration as steps, without the activities that it adds.

    `together` makes the same alteration of them again, as far as their activities are in the plan and not done.
    """
    lengths = {one.id: one.duration for one in plan.activities}
    rows = [Step("out", code) for code in alteration.remove]
    rows += [
        Step("after", waiting, (link.kind, link.lag, int(link.lag_elapsed), link.before))
        for waiting, link in alteration.links
    ]
    rows += [Step("length", code, (days,)) for code, days in alteration.durations.items()]
    for code, day in alteration.not_before.items():
        days = alteration.durations.get(code, lengths.get(code, 1))
        rows.append(Step("start", code, (day if days else day - timedelta(days=1),)))
    rows += [Step("misses", code, (days,)) for code, days in alteration.slips.items()]
    rows += [Step("split", code, parts) for code, parts in alteration.splits.items()]
    rows += [Step("away", name, (first, last)) for name, first, last in alteration.closures]
    rows += [Step("weekday" if isinstance(day, int) else "day", name, (day,)) for name, day in alteration.working]
    return tuple(rows)
