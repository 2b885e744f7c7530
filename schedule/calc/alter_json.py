"""A change to a network as plain JSON: how what-ifs, options and records keep what they would do to the plan.

Activities are known by their ids and calendars by their names. `duration`, `add`, `remove` and `links` are named as in the
comparison document; the rest is our own. Whatever is empty is left out, so that an alteration that does nothing is `{}`.
Dates are the engine's: a milestone that may not come before a day lets work begin on that day.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from schedule.calc.alter import Alteration
from schedule.calc.network import Activity, Link
from units.reading import Document, Field, Record, Rows, Scope, Shape, Table, Unreadable, required
from units.shapes import Choice, Day, Flag, Text, Whole

MOST = 10_000
_DAYS = Whole(0, MOST)
_LAG = Whole(-MOST, MOST)


@dataclass(frozen=True, slots=True)
class Fixed:
    """A list of values that each have a place, such as [calendar, first day, last day]."""

    shapes: tuple[Shape, ...]
    wanted: str

    def read(self, value: Any, scope: Scope) -> tuple[Any, ...]:
        if not isinstance(value, list) or len(value) != len(self.shapes):
            raise required(self)
        return tuple(self._entry(place, value, scope) for place in range(len(value)))

    def _entry(self, place: int, value: list[Any], scope: Scope) -> Any:
        try:
            return self.shapes[place].read(value[place], scope)
        except Unreadable as fault:
            raise fault.under(place) from None

    def schema(self) -> dict[str, Any]:
        count = len(self.shapes)
        return {"type": "array", "prefixItems": [shape.schema() for shape in self.shapes]} | {
            "minItems": count,
            "maxItems": count,
        }


@dataclass(frozen=True, slots=True)
class WeekdayOrDay:
    """A weekday, 1 for Monday to 7 for Sunday, or one day of the calendar."""

    wanted: str = "a weekday from 1 to 7 or a date"

    def read(self, value: Any, scope: Scope) -> int | date:
        if isinstance(value, str):
            return Day().read(value, scope)
        try:
            return Whole(1, 7).read(value, scope)
        except Unreadable:
            raise required(self) from None

    def schema(self) -> dict[str, Any]:
        return {"anyOf": [Whole(1, 7).schema(), Day().schema()]}


_LINK = {
    "link": Field(Choice(("FS", "SS", "FF", "SF")), default="FS"),
    "lag": Field(_LAG, default=0),
    "lag_elapsed": Field(Flag(), default=False),
}
_ADDED = Record(
    {
        "id": Field(Text()),
        "name": Field(Text(), default=""),
        "duration": Field(_DAYS),
        "calendar": Field(Text(), default=""),
        "after": Field(Rows(Record({"id": Field(Text())} | _LINK), most=1000), default=()),
        "not_before": Field(Day(), default=None, or_null=True),
        "elapsed": Field(Flag(), default=False),
    }
)
CHANGES = Record(
    {
        "duration": Field(Table(_DAYS), default={}),
        "add": Field(Rows(_ADDED, unique="id"), default=()),
        "remove": Field(Rows(Text(), unique="."), default=()),
        "links": Field(Rows(Record({"id": Field(Text()), "after": Field(Text())} | _LINK)), default=()),
        "not_before": Field(Table(Day()), default={}),
        "slips": Field(Table(_DAYS), default={}),
        "closures": Field(
            Rows(Fixed((Text(), Day(), Day()), "a list of a calendar, a first and a last day")), default=()
        ),
        "working": Field(
            Rows(Fixed((Text(), WeekdayOrDay()), "a list of a calendar and a weekday or a day")), default=()
        ),
        "splits": Field(
            Table(Fixed((Whole(1, MOST), _DAYS, Whole(1, MOST)), "a list of days, days between and days")), default={}
        ),
    }
)
DOCUMENT = Document("changes: what would be otherwise in a network", CHANGES)


def read(plain: Any) -> Alteration:
    """Read an alteration from plain JSON.

    Args:
        plain: {duration {id: days}, add [activities], remove [ids], links [{id, after, link, lag, lag_elapsed}], not_before
            {id: date}, slips {id: days}, closures [[calendar, first, last]], working [[calendar, weekday or date]], splits {id:
            [days, days between, days]}}; every key may be left out. Days are working days of the activity's calendar.
    Raises: Unreadable, which names the place. Whether ids are known is the network's to say.

    >>> read({"duration": {"A79": 8}}).durations["A79"]
    8
    """
    return of(DOCUMENT.read(plain))


def of(found: Mapping[str, Any]) -> Alteration:
    """Make the alteration of what `CHANGES` has read, as part of a larger document. Raises: Unreadable."""
    _check(found)
    return Alteration(
        durations=dict(found["duration"]),
        add=tuple(map(_activity, found["add"])),
        remove=found["remove"],
        links=tuple((row["id"], _link(row, row["after"])) for row in found["links"]),
        not_before=dict(found["not_before"]),
        slips=dict(found["slips"]),
        closures=found["closures"],
        working=found["working"],
        splits=dict(found["splits"]),
    )


def _check(found: Mapping[str, Any]) -> None:
    for place, (_, first, last) in enumerate(found["closures"]):
        if last < first:
            raise Unreadable(
                f"the last day is before the first; a day from {first} on is required", ("closures", place, 2)
            )


def _activity(row: Mapping[str, Any]) -> Activity:
    return Activity(
        id=row["id"],
        duration=row["duration"],
        calendar=row["calendar"],
        after=tuple(_link(link, link["id"]) for link in row["after"]),
        not_before=row["not_before"],
        elapsed=row["elapsed"],
    )


def _link(row: Mapping[str, Any], before: str) -> Link:
    return Link(before, row["link"], row["lag"], row["lag_elapsed"])


def names(plain: Mapping[str, Any]) -> dict[str, str]:
    """What the activities that an alteration adds are called: {id: name}, without those that have no name.

    >>> names({"add": [{"id": "N1", "name": "Second lift", "duration": 1}]})
    {'N1': 'Second lift'}
    """
    return {row["id"]: row["name"] for row in plain.get("add", ()) if row.get("name")}


def write(alteration: Alteration, names: Mapping[str, str] | None = None) -> dict[str, Any]:
    """Write an alteration as plain JSON that `read` takes back to the same one.

    Args:
        names: what added activities are called, {id: name}.

    >>> write(Alteration(not_before={"A61": date(2027, 2, 19)}))
    {'not_before': {'A61': '2027-02-19'}}
    """
    found: dict[str, Any] = {
        "duration": dict(alteration.durations),
        "add": [_written(one, (names or {}).get(one.id, "")) for one in alteration.add],
        "remove": list(alteration.remove),
        "links": [{"id": waiting, "after": link.before} | _told(link) for waiting, link in alteration.links],
        "not_before": {code: str(day) for code, day in alteration.not_before.items()},
        "slips": dict(alteration.slips),
        "closures": [[name, str(first), str(last)] for name, first, last in alteration.closures],
        "working": [[name, day if isinstance(day, int) else str(day)] for name, day in alteration.working],
        "splits": {code: list(parts) for code, parts in alteration.splits.items()},
    }
    return {name: value for name, value in found.items() if value}


def _told(link: Link) -> dict[str, Any]:
    found: dict[str, Any] = {}
    if link.kind != "FS":
        found["link"] = link.kind
    if link.lag:
        found["lag"] = link.lag
    return found | ({"lag_elapsed": True} if link.lag_elapsed else {})


def _written(one: Activity, name: str) -> dict[str, Any]:
    found: dict[str, Any] = {"id": one.id} | ({"name": name} if name else {}) | {"duration": one.duration}
    if one.calendar:
        found["calendar"] = one.calendar
    if one.after:
        found["after"] = [{"id": link.before} | _told(link) for link in one.after]
    if one.not_before:
        found["not_before"] = str(one.not_before)
    return found | ({"elapsed": True} if one.elapsed else {})
