"""What an address asks of the Sequence page, read without trust."""

from collections.abc import Mapping
from datetime import date

from schedule.calc.listing import DONE, NOT_STARTED, SPANS, UNDER_WAY, Asked

LONGEST = 80


def asked(given: Mapping[str, str]) -> Asked:
    """What is to be shown; what is not understood counts as not asked."""
    return Asked(
        span=_one_of(given.get("span"), SPANS, "quarter"),
        what=_one_of(given.get("what"), ("all", "critical", "left"), "all"),
        by=_one_of(given.get("by"), ("week", "trade"), "week"),
        trade=given.get("trade", "")[:LONGEST],
        area=given.get("area", "")[:LONGEST],
        calendar_id=whole_number(given.get("calendar")),
        state=_one_of(given.get("state"), (NOT_STARTED, UNDER_WAY, DONE), ""),
        words=given.get("words", "")[:LONGEST],
    )


def _one_of(text: str | None, known: tuple[str, ...], otherwise: str) -> str:
    return text if text in known else otherwise


def whole_number(text: str | None) -> int:
    """A number of at most nine digits, or 0."""
    return int(text) if text and len(text) < 10 and text.isascii() and text.isdigit() else 0


def a_day(text: str | None) -> date | None:
    """A date as an address has it, or None."""
    try:
        return date.fromisoformat(text or "")
    except ValueError:
        return None
