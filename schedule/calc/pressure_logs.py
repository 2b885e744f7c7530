"""The readings of a pressure test over time: how much it fell, how long it was watched, and whether that is within what is allowed.

Readings are exact decimals in one unit; times are of one day or run over midnight once. The largest fall below the first
reading counts, not the difference of the last one, for a gauge that fell and came back has fallen.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

TIME = re.compile(r"([01]?\d|2[0-3])[:.]([0-5]\d)")
NUMBER = re.compile(r"\d{1,6}(?:[.,]\d{1,6})?")
MOST_READINGS = 200
MINUTES_OF_DAY = 24 * 60


class NoLog(ValueError):
    """What was typed is no log: the line that cannot be read, and how it should look."""

    def __init__(self, line: str, place: int) -> None:
        super().__init__(line)
        self.line, self.place = line, place


@dataclass(frozen=True, slots=True)
class Reading:
    """A reading [unit of the log] at a time of the clock [minutes since midnight]."""

    minute: int
    value: Decimal

    @property
    def clock(self) -> str:
        hours, minutes = divmod(self.minute % MINUTES_OF_DAY, 60)
        return f"{hours:02d}:{minutes:02d}"


@dataclass(frozen=True, slots=True)
class PressureLog:
    """Readings in the order in which they were taken, later ones with a later minute, and what they were taken with."""

    readings: tuple[Reading, ...]
    unit: str = ""
    gauge: str = ""
    calibrated_on: date | None = None
    allowed_drop: Decimal | None = None

    @property
    def drop(self) -> Decimal:
        """The largest fall below the first reading [unit], zero where it never fell.

        >>> PressureLog(read("09:00 6.0\\n09:30 5.95\\n10:00 5.98")).drop
        Decimal('0.05')
        """
        first = self.readings[0].value
        return max(first - min(one.value for one in self.readings), Decimal(0))

    @property
    def minutes(self) -> int:
        """How long it was watched [minutes]."""
        return self.readings[-1].minute - self.readings[0].minute

    @property
    def within(self) -> bool | None:
        """Whether the fall is within what is allowed; None where nothing is said to be allowed."""
        return None if self.allowed_drop is None else self.drop <= self.allowed_drop


def read(text: str) -> tuple[Reading, ...]:
    """Read a time and a reading from each line, as they are typed on site.

    Returns: the readings; a time earlier than the one before is of the next day.
    Raises: NoLog, for a line that is not a time and a number, for fewer than two of them, or for more than a day.

    >>> [(one.clock, str(one.value)) for one in read("9:00  6.0 bar\\n9:30, 5,98")]
    [('09:00', '6.0'), ('09:30', '5.98')]
    """
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    readings: list[Reading] = []
    for place, line in enumerate(lines, 1):
        minute, value = _line(line, place)
        before = readings[-1].minute if readings else 0
        minute += MINUTES_OF_DAY if minute < before else 0
        if minute < before or place > MOST_READINGS:
            raise NoLog(line, place)
        readings.append(Reading(minute, value))
    if len(readings) < 2:
        raise NoLog(text.strip()[:40], len(readings))
    return tuple(readings)


def _line(line: str, place: int) -> tuple[int, Decimal]:
    found = re.fullmatch(rf"{TIME.pattern}\s*[,;]?\s+({NUMBER.pattern})(?:\s*[^\W\d_]\D*)?", line)
    if not found:
        raise NoLog(line, place)
    return int(found[1]) * 60 + int(found[2]), Decimal(found[3].replace(",", "."))


def plain(log: PressureLog) -> dict[str, Any]:
    """A log as plain values to be kept; numbers as text, so that none is rounded."""
    return {
        "unit": log.unit, "gauge": log.gauge, "calibrated_on": log.calibrated_on.isoformat() if log.calibrated_on else "",
        "allowed_drop": "" if log.allowed_drop is None else format(log.allowed_drop, "f"),
        "readings": [[one.clock, format(one.value, "f")] for one in log.readings],
    }  # fmt: skip


def back(kept: Mapping[str, Any]) -> PressureLog:
    """A log from what `plain` wrote.

    >>> back(plain(PressureLog(read("23:50 6\\n00:20 5.9"), "bar", allowed_drop=Decimal("0.1")))).minutes
    30
    """
    return PressureLog(
        read("\n".join(f"{clock} {value}" for clock, value in kept["readings"])),
        kept["unit"],
        kept["gauge"],
        date.fromisoformat(kept["calibrated_on"]) if kept["calibrated_on"] else None,
        Decimal(kept["allowed_drop"]) if kept["allowed_drop"] else None,
    )


def line(log: PressureLog, *, width: int, height: int) -> str:
    """The readings as the points of a line in a drawing, and the most that is allowed to be lost at its foot.

    Args:
        width, height: of the drawing [whole units], above zero.
    Returns: "x,y x,y …" from left to right, in whole units; the first reading lies at the top.
    """
    first = log.readings[0]
    most = max(log.drop, log.allowed_drop or Decimal(0)) or Decimal(1)
    span = log.minutes or 1
    points = (
        (
            (one.minute - first.minute) * width // span,
            int(min(max(first.value - one.value, Decimal(0)), most) * height / most),
        )
        for one in log.readings
    )
    return " ".join(f"{x},{y}" for x, y in points)
