"""Deliveries in words: what is next to become late, what waiting costs, how a thing stands."""

from datetime import date

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from projects import display
from projects.models import Project
from schedule.calc.deliveries import Jump, Wait
from schedule.selectors.arriving import Arriving, Board


def _day(on: date | None, project: Project) -> str:
    return display.day(on, project.locale) if on else "\u2013"


def sentence(board: Board, project: Project) -> str:
    """The one sentence of the page: which order is next to become late, and what comes too late already."""
    if not board.rows:
        return _("Nothing is on its way yet.")
    told = [next_order(board.next_order, project)] if board.next_order else []
    told += too_late([row for row in board.waited_for if row.days_past], project)
    return " ".join(told) or _("Everything is ordered, and comes before the opening would move.")


def next_order(row: Arriving, project: Project) -> str:
    """Which order is next to become late: for the work that waits for it, and for the opening."""
    told = [_order_for_work(row, project), _order_for_opening(row, project)]
    return _("Next to order is %(item)s: %(told)s.") % {"item": row.item, "told": "; ".join(one for one in told if one)}


def _order_for_work(row: Arriving, project: Project) -> str:
    if row.order_for_work is None or row.days_to_plan is None:
        return ""
    words = {"on": _day(row.order_for_work.begin_on, project), "left": display.days_left(row.days_to_plan)}
    if row.days_to_plan < 0:
        return _("work waits for it already")
    return _("by %(on)s (%(left)s), or work waits") % words


def _order_for_opening(row: Arriving, project: Project) -> str:
    if row.order is None or row.days_to_order is None:
        return ""
    words = {"on": _day(row.order.begin_on, project), "left": display.days_left(row.days_to_order)}
    if row.days_to_order < 0:
        return _("each day moves the opening, since %(on)s") % words
    return _("by %(on)s (%(left)s), or the opening moves") % words


def too_late(rows: list[Arriving], project: Project) -> list[str]:
    """What comes after the last day before the opening moves: the worst by name, the others counted."""
    if not rows:
        return []
    worst = max(rows, key=lambda row: row.days_past)
    told = _("%(item)s comes %(days)s later than the opening allows.") % {
        "item": worst.item, "days": display.days(worst.days_past),
    }  # fmt: skip
    more = len(rows) - 1
    return [told, ngettext("So does %(n)d more.", "So do %(n)d more.", more) % {"n": more}] if more else [told]


def state(row: Arriving, project: Project) -> tuple[str, str]:
    """A word for how a thing stands, and its kind: over, wait, saved or quiet."""
    left, planned = row.days_to_order or 0, row.days_to_plan or 0
    return {
        "there": (_("on site"), "saved"),
        "past": (_("%s late for the opening") % display.days(row.days_past), "over"),
        "missed": (_("order %s overdue") % display.days(-left), "over"),
        "soon": (_("order: %s") % display.days_left(left), "wait"),
        "plan soon": (
            _("work will wait") if planned < 0 else _("order: %s") % display.days_left(planned),
            "wait",
        ),
        "promised later": (_("promised %s later") % display.days(row.promised_later), "wait"),
        "in time": (_("in time"), "quiet"),
    }[row.state]


def in_hand(row: Arriving) -> str:
    """Days between arrival and need: "3 days", "comes 2 days after it is needed"."""
    held = row.days_in_hand
    if held is None:
        return "\u2013"
    if held < 0:
        return _("%s too late") % display.days(-held)
    return display.days(held)


def stands(row: Arriving, project: Project) -> str:
    """The one sentence of a delivery's page."""
    words = {"item": row.item, "on": _day(row.expected_on, project)}
    if row.arrived_on:
        return _("%(item)s: on site since %(on)s.") % words
    if row.expected_on is None:
        return _("%(item)s: no day is known yet.") % words
    told = _("%(item)s: expected on site on %(on)s") % words
    if row.needed_for is None:
        return told + "."
    needed = {"told": told, "for": row.needed_for.name, "days": display.days(abs(row.days_in_hand or 0))}
    if (row.days_in_hand or 0) < 0:
        return _("%(told)s, %(days)s after it is needed for: %(for)s.") % needed
    return _("%(told)s, %(days)s before it is needed for: %(for)s.") % needed


def wait(found: Wait, row: Arriving) -> tuple[str, str]:
    """What an order of a day comes to: "in time", "work waits 3 days", "5 days late for the opening"; and its class."""
    there = found.coming.on_site_on
    if row.latest_on and there > row.latest_on:
        return _("%s late for the opening") % display.days((there - row.latest_on).days), "over"
    if row.needed_by and there >= row.needed_by:
        return _("work waits %s") % display.days((there - row.needed_by).days + 1), "wait"
    return _("in time"), ""


def jump(found: Jump, project: Project) -> str:
    """What a day of waiting costs where a closure is crossed."""
    words = {
        "closed": _closed(found, project), "on": _day(found.last_on, project),
        "begun": _later(found.begun_later), "there": _later(found.on_site_later),
    }  # fmt: skip
    return _("%(closed)s Order by %(on)s: ordered one day later, it is begun %(begun)s and on site %(there)s.") % words


def _closed(found: Jump, project: Project) -> str:
    if found.closed is None:
        return _("The works rest for some days.")
    first, last = found.closed
    length = display.days((last - first).days + 1)
    words = {"first": _day(first, project), "last": _day(last, project), "length": length}
    return _("The works are closed from %(first)s to %(last)s (%(length)s).") % words


def _later(days: int) -> str:
    if days == 0:
        return _("no later")
    return ngettext("%(n)d day later", "%(n)d days later", days) % {"n": days}


def promise_moves(row: Arriving, project: Project, finish: date | None, after: date | None) -> str:
    """What putting the promised day into the plan does to the opening."""
    words = {"on": _day(row.row.promised_on, project), "days": display.days(row.promised_later)}
    told = _("The promised day, %(on)s, is %(days)s later than the plan has it.") % words
    return f"{told} {opening(finish, after, project)}"


def opening(before: date | None, after: date | None, project: Project) -> str:
    """Whether a change moves the opening: "The opening stays on …", "The opening moves from … to … (+7 days)"."""
    if before is None or after is None:
        return ""
    moved = (after - before).days
    if moved == 0:
        return _("The opening stays on %s.") % _day(before, project)
    sign = "+" if moved > 0 else display.MINUS
    words = {"before": _day(before, project), "after": _day(after, project), "days": display.days(abs(moved))}
    return _("The opening moves from %(before)s to %(after)s (%(sign)s%(days)s).") % (words | {"sign": sign})
