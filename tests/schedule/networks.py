"""Small networks of every kind, for tests over generated values."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

from hypothesis import strategies as st

from schedule.calc.calendars import Calendar
from schedule.calc.network import Activity, Link, Network

START, DATA = date(2026, 12, 1), date(2026, 12, 7)
NEW_YEAR = (date(2026, 12, 24), date(2027, 1, 1))
CALENDARS = {
    "trades": Calendar("trades", frozenset({1, 2, 3, 4, 5}), closed=(NEW_YEAR,)),
    "crew": Calendar("crew", frozenset({1, 2, 3, 4, 5, 6}), worked=(date(2026, 12, 13),)),
    "visits": Calendar("visits", frozenset({2, 4}), closed=((date(2026, 12, 8), date(2026, 12, 10)),)),
    "always": Calendar("always"),
}
Draw = Callable[[st.SearchStrategy[Any]], Any]


@st.composite
def links(draw: Draw, before: str) -> Link:
    lag = draw(st.sampled_from([0, 0, 0, 1, 2, 3, -1, -2]))
    return Link(before, draw(st.sampled_from(["FS", "FS", "SS", "FF", "SF"])), lag, draw(st.booleans()))


@st.composite
def progress(draw: Draw) -> dict[str, date]:
    """What has happened by the day progress is told for: nothing, a start, or a finish with or without one."""
    happened = draw(st.sampled_from(["nothing", "started", "finished", "both"]))
    first = draw(st.integers(0, (DATA - START).days))
    last = draw(st.integers(first, (DATA - START).days))
    started = {"started_on": START + timedelta(days=first)} if happened in ("started", "both") else {}
    return started | ({"finished_on": START + timedelta(days=last)} if happened in ("finished", "both") else {})


@st.composite
def activities(draw: Draw, id_: str, before: list[str]) -> Activity:
    chosen = draw(st.lists(st.sampled_from(before), max_size=3, unique=True)) if before else []
    return Activity(
        id_,
        draw(st.integers(0, 4)),
        draw(st.sampled_from(["", *CALENDARS])),
        tuple(draw(links(other)) for other in chosen),
        not_before=draw(st.none() | st.dates(START, START + timedelta(days=12))),
        elapsed=draw(st.sampled_from([False, False, False, True])),
        slip=draw(st.sampled_from([0, 0, 0, 1, 2])),
    )


@st.composite
def networks(draw: Draw, progressed: bool = False) -> Network:
    """Up to seven activities on four calendars; with `progressed`, some of the first have begun or ended."""
    found: list[Activity] = []
    for place in range(draw(st.integers(1, 7))):
        activity = draw(activities(str(place), [other.id for other in found]))
        happened = draw(progress()) if progressed and place < 3 else {}
        found.append(Activity(**{name: getattr(activity, name) for name in Activity.__slots__} | happened))
    return Network(START, CALENDARS, "trades", tuple(found), data_on=DATA if progressed else None)


@st.composite
def plain_networks(draw: Draw) -> Network:
    """One calendar of every day, links from finish to start without lags."""
    found: list[Activity] = []
    for place in range(draw(st.integers(1, 12))):
        before = draw(st.lists(st.sampled_from(found), max_size=4, unique=True)) if found else []
        after = tuple(Link(other.id) for other in before)
        found.append(Activity(str(place), draw(st.integers(0, 9)), after=after))
    return Network(START, activities=tuple(found))
