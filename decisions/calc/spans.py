"""Which days the work of a line still takes, from the dates of the activities that it pays for."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

#: How long after the last of its work a line is still billed [calendar days]: the usual term of an invoice, common practice.
BILLED_WITHIN_DAYS = 30


@dataclass(frozen=True, slots=True)
class Work:
    """The first and last day of an activity, as the plan has them today, and whether it is done."""

    first: date
    last: date
    done: bool = False


def remaining(works: Iterable[Work], today: date) -> tuple[tuple[date, date], ...]:
    """Give the days that are still ahead.

    Returns: a span for each activity that is not done, from today on. Where all is done the line is billed within the usual
        term: one span from today; none where there is no activity.
    Source: our rule, ADR 0407.

    >>> remaining([Work(date(2027, 1, 4), date(2027, 2, 5)), Work(date(2027, 1, 4), date(2027, 1, 8), True)], date(2027, 1, 29))
    ((datetime.date(2027, 1, 29), datetime.date(2027, 2, 5)),)
    """
    rows = list(works)
    ahead = tuple((max(today, row.first), max(today, row.last)) for row in rows if not row.done)
    return ahead if ahead or not rows else ((today, today + timedelta(days=BILLED_WITHIN_DAYS)),)
