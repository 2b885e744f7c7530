"""What a replay of the scenario has built so far, and the diary that it follows."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time
from typing import Any
from zoneinfo import ZoneInfo

from budget.models import Change, Invoice, LineItem, Quote
from decisions.models import Decision
from projects.models import Project, User
from schedule.models import Activity, Delivery, HoldPoint

ZONE = ZoneInfo("Europe/London")
#: (day, place within the day, what is done on it)
Diary = list[tuple[date, int, Callable[[date], None]]]


@dataclass(slots=True)
class Replay:
    """What the replay has built so far."""

    scenario: Mapping[str, Any]
    project: Project
    people: Mapping[str, User]
    lines: dict[str, LineItem] = field(default_factory=dict)
    quotes: dict[str, Quote] = field(default_factory=dict)
    decisions: dict[str, Decision] = field(default_factory=dict)
    changes: dict[str, Change] = field(default_factory=dict)
    invoices: dict[str, Invoice] = field(default_factory=dict)
    activities: dict[str, Activity] = field(default_factory=dict)
    holds: dict[str, HoldPoint] = field(default_factory=dict)
    deliveries: dict[str, Delivery] = field(default_factory=dict)

    @property
    def lead(self) -> User:
        return self.people["lead"]

    def at(self, on: date, hour: int = 10) -> datetime:
        return datetime.combine(on, time(hour), tzinfo=ZONE)
