"""A network as a JSON document: what may be sent, and what comes back. The rules are in `plan` and `compiling`."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from schedule.calc import network
from schedule.calc.calendars import Calendar, Span
from schedule.calc.plan import KINDS, MOST_DAYS, Activity, BadNetwork, CircleOfWork, Link, Network
from units.reading import Document, Field, Record, Rows, Scope, Table, Unreadable, nearest, required, shown
from units.shapes import Choice, Day, Flag, Text, Whole

MOST_ACTIVITIES = 20_000


@dataclass(frozen=True, slots=True)
class DayOrSpan:
    """One day, or the first and the last of several; read into both ends."""

    wanted: str = "a date such as 2026-11-25, or a list of a first and a last one,"

    def read(self, value: Any, scope: Scope) -> Span:
        if isinstance(value, str):
            day = Day().read(value, scope)
            return day, day
        if not isinstance(value, list) or len(value) != 2:
            raise required(self)
        first, last = (self._end(value, place, scope) for place in range(2))
        if last < first:
            raise Unreadable(f"the last day is before the first, {first}", (1,))
        return first, last

    def _end(self, value: list[Any], place: int, scope: Scope) -> date:
        try:
            return Day().read(value[place], scope)
        except Unreadable as fault:
            raise fault.under(place) from None

    def schema(self) -> dict[str, Any]:
        day = Day().schema()
        return {"anyOf": [day, {"type": "array", "items": day, "minItems": 2, "maxItems": 2}]}


_NO_DAY = Field(Day(), default=None, or_null=True)
_CALENDAR = Record(
    {
        "weekdays": Field(Rows(Whole(1, 7), least=1, most=7, unique="."), default=(1, 2, 3, 4, 5, 6, 7), or_null=True),
        "region": Field(Text(most=20), default="", or_null=True),
        "closed": Field(Rows(DayOrSpan(), most=5000), default=(), or_null=True),
    }
)
_LINK = Record(
    {
        "id": Field(Text()),
        "link": Field(Choice(tuple(KINDS)), default="FS"),
        "lag": Field(Whole(-MOST_DAYS, MOST_DAYS), default=0, or_null=True),
        "lag_elapsed": Field(Flag(), default=False),
    }
)
#: An activity as it may be sent; a document that knows more of activities takes these fields and adds its own.
ACTIVITY_FIELDS: Mapping[str, Field] = {
    "id": Field(Text()),
    "duration": Field(Whole(0, MOST_DAYS)),
    "calendar": Field(Text(), default="", or_null=True),
    "after": Field(Rows(_LINK, most=MOST_ACTIVITIES), default=(), or_null=True),
    "not_before": _NO_DAY,
    "elapsed": Field(Flag(), default=False),
    "started": _NO_DAY,
    "finished": _NO_DAY,
}
NETWORK_FIELDS: Mapping[str, Field] = {
    "start": Field(Day()),
    "calendars": Field(Table(_CALENDAR, most=200), default={}, or_null=True),
    "default_calendar": Field(Text(), default="", or_null=True),
    "finish_by": _NO_DAY,
    "data_date": _NO_DAY,
    "activities": Field(Rows(Record(ACTIVITY_FIELDS), least=1, most=MOST_ACTIVITIES, unique="id")),
}


def _check(read: Mapping[str, Any]) -> None:
    known = list(read["calendars"])
    if any(not name.strip() for name in known):
        raise Unreadable("a calendar needs a name", ("calendars",))
    _check_calendar(read["default_calendar"], known, ("default_calendar",))
    ids = dict.fromkeys(activity["id"] for activity in read["activities"])
    for place, activity in enumerate(read["activities"]):
        _check_calendar(activity["calendar"], known, ("activities", place, "calendar"))
        for step, link in enumerate(activity["after"]):
            if link["id"] not in ids:
                mend = f'"{shown(link["id"])}" is none of the activities{nearest(link["id"], list(ids))}'
                raise Unreadable(mend, ("activities", place, "after", step, "id"))


def _check_calendar(name: str, known: list[str], path: tuple[str | int, ...]) -> None:
    if name and name not in known:
        raise Unreadable(f'no calendar is called "{shown(name)}"{nearest(name, known)}', path)


NETWORK = Record(NETWORK_FIELDS, check=_check)
DOCUMENT = Document("network: the critical path on working calendars", NETWORK)


def work_out(read: Mapping[str, Any]) -> dict[str, Any]:
    """Work out the network of a document that `DOCUMENT` has read, and give the answer as plain JSON values.

    Raises: Unreadable.
    """
    try:
        solution = network.solve_network(facts(read))
        return _answer(solution)
    except BadNetwork as fault:
        raise unreadable(fault) from None


def facts(read: Mapping[str, Any]) -> Network:
    """Make the network of what `NETWORK` has read, as a document of its own or as a part of one."""
    return Network(
        start=read["start"],
        calendars={name: _calendar(name, row) for name, row in read["calendars"].items()},
        default_calendar=read["default_calendar"],
        activities=tuple(activity(row) for row in read["activities"]),
        data_on=read["data_date"],
        finish_by=read["finish_by"],
    )


def _calendar(name: str, row: Mapping[str, Any]) -> Calendar:
    return Calendar(name, frozenset(row["weekdays"]), row["region"], row["closed"])


def activity(row: Mapping[str, Any]) -> Activity:
    """Make an activity of what a record of `ACTIVITY_FIELDS` has read."""
    return Activity(
        id=row["id"],
        duration=row["duration"],
        calendar=row["calendar"],
        after=tuple(Link(link["id"], link["link"], link["lag"], link["lag_elapsed"]) for link in row["after"]),
        not_before=row["not_before"],
        elapsed=row["elapsed"],
        started_on=row["started"],
        finished_on=row["finished"],
    )


#: How the document calls what the network calls otherwise.
_KEYS = {"data_on": "data_date", "started_on": "started", "finished_on": "finished"}


def unreadable(fault: BadNetwork) -> Unreadable:
    """Say what is wrong with a network in the words of the document."""
    mend = fault.mend
    if isinstance(fault, CircleOfWork):  # an arrow that every terminal can show
        mend = mend.replace("→", "->")
    return Unreadable(mend, tuple(_KEYS.get(step, step) if isinstance(step, str) else step for step in fault.path))


def _answer(solution: network.Solution) -> dict[str, Any]:
    return {
        "finish": str(solution.finish),
        "activities": {row.id: _outcome(solution, row.id) for row in solution.network.activities},
        "critical": list(solution.critical),
    }


def _outcome(solution: network.Solution, id_: str) -> dict[str, Any]:
    seen, numbers = solution.of(id_), solution.numbers
    found: dict[str, Any] = {
        "early_start": str(seen.early_start),
        "early_finish": str(seen.early_finish),
        "late_start": str(seen.late_start),
        "late_finish": str(seen.late_finish),
        "total_float": seen.total_float,
        "free_float": seen.free_float,
        "critical": seen.critical,
    }
    if solution.network.finish_by is not None:
        found["float_to_finish"] = seen.float_to_finish
    if numbers is not None:
        textbook = numbers[id_]
        found |= {"es": textbook.es, "ef": textbook.ef, "ls": textbook.ls, "lf": textbook.lf}
    return found
