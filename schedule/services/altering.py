"""Putting an alteration into the plan, and taking it out again.

What a what-if or a decision would do to the network is worked out by the engine first; only how the two networks differ is
written to rows, so that the plan comes to what was answered. What stood before is handed back as plain JSON, with
activities by their codes and calendars by their names, and takes the alteration out again later. Whatever somebody has changed
since is theirs: it is left alone and named.
"""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from projects import trail
from projects.faults import Refused
from projects.models import Project, User
from schedule.calc import alter, difference
from schedule.calc import network as engine
from schedule.calc.alter import Alteration
from schedule.calc.network import Network
from schedule.models import Activity
from schedule.selectors import standing
from schedule.selectors.network import Read
from schedule.services import altered_rows, plan

CODE_LENGTH = 12
#: The verbs of the trail rows; `details["before"]` of the first is what `take_out` needs.
PUT_IN, TOOK_OUT = "put in", "took out"


@transaction.atomic
def put_in(
    project: Project, alteration: Alteration, *, reason: str, by: User | None, now: datetime, today: date,
    names: Mapping[str, str] | None = None, subject: str = "activity", subject_id: int | None = None,
) -> dict[str, Any]:  # fmt: skip
    """Put an alteration into the plan and move every date that rests on it.

    Args:
        names: what added activities are called, {code: name}; others are called by their codes.
        subject, subject_id: what the trail row is about.
    Returns: what `take_out` needs, as plain JSON; {} where nothing differs.
    Writes Activity, Link, WorkCalendar, Closure, kept dates and one trail row with what stood before. Not safe to repeat:
    visits missed, closures and splits add up.
    Raises: Refused, with nothing written.
    """
    held = plan.lock(project)
    plan.opened(held, today=today)
    found = worked_out(held, alteration, today=today)
    altered_rows.write(held, found, reason, _called(held, alteration, names or {}), today)
    plan.settle(held, today=today)
    trail.note(
        held, by=by, at=now, verb=PUT_IN, subject=subject, subject_id=subject_id, details={"before": found, "reason": reason},
        summary=_("Put into the plan: %(what)s: %(reason)s") % {"what": _told(found), "reason": reason},
    )  # fmt: skip
    return found


@transaction.atomic
def take_out(
    project: Project, before: Mapping[str, Any], *, reason: str, by: User | None, now: datetime, today: date,
    subject: str = "activity", subject_id: int | None = None,
) -> tuple[str, ...]:  # fmt: skip
    """Take an alteration out of the plan again, as far as nobody has changed since what it had changed.

    Args:
        before: what `put_in` gave.
    Returns: what was left alone, a sentence each.
    Writes what `put_in` writes, with one trail row. Safe to repeat: what stands as before already is left.
    Raises: Refused, such as for a circle with links that were made since; nothing is written then.
    """
    held = plan.lock(project)
    left = altered_rows.write_back(held, before, today)
    plan.settle(held, today=today)
    trail.note(
        held, by=by, at=now, verb=TOOK_OUT, subject=subject, subject_id=subject_id,
        details={"before": dict(before), "left": left, "reason": reason},
        summary=_("Took out of the plan again: %(what)s: %(reason)s") % {"what": _told(before), "reason": reason},
    )  # fmt: skip
    return tuple(left)


def worked_out(project: Project, alteration: Alteration, *, today: date) -> dict[str, Any]:
    """How the rows of a plan differ from those with an alteration, as `difference.between` tells it. Writes nothing.

    Raises: Refused.
    """
    read = _standing(project, today)
    with standing.refusing(read.names):
        changed = difference.pinned(alter.apply(read.network, alteration))
    short = difference.renamed(changed, _first_parts(project, alteration))
    try:
        found = difference.between(read.network, short)
    except difference.TwoLags as fault:
        words = _("%(waiting)s would wait for %(before)s with two different lags; set that link yourself first.")
        raise Refused(words % {"waiting": fault.waiting, "before": fault.before}) from fault
    _check(read.network, found)
    return found


def answerable(project: Project, alteration: Alteration, *, today: date) -> None:
    """Refuse an alteration that the plan has no answer to. Writes nothing. Raises: Refused."""
    read = _standing(project, today)
    with standing.refusing(read.names):
        engine.solve_network(alter.apply(read.network, alteration))


def _standing(project: Project, today: date) -> Read:
    read = standing.standing(project, today=today)
    if read is None:
        raise Refused(_("Nothing is planned yet; add activities first."))
    return read


def _check(network: Network, found: Mapping[str, Any]) -> None:
    own = {one.id: one for one in network.activities}
    for code in (*found.get("changed", ()), *found.get("removed", ())):
        if own[code].finished_on:
            raise Refused(_("%s is done; what was done stays in the plan.") % code)
    for code in found.get("removed", ()):
        if own[code].started_on:
            raise Refused(_("%s has begun; what was done stays in the plan.") % code)
    for code in found.get("added", ()):
        if len(code) > CODE_LENGTH:
            raise Refused(_("“%(code)s” is too long a code; give at most %(most)d signs.")
                          % {"code": code, "most": CODE_LENGTH})  # fmt: skip


def _first_parts(project: Project, alteration: Alteration) -> dict[str, str]:
    """Codes for the first parts of split work: the code of the whole with the first free letter after it."""
    if not alteration.splits:
        return {}
    taken = set(Activity.objects.filter(project=project, removed_on=None).values_list("code", flat=True))
    found = {}
    for code in alteration.splits:
        free = (f"{code[: CODE_LENGTH - 1]}{letter}" for letter in "abcdefghijklmnopqrstuvwxyz")
        found[alter.first_part(code)] = next((one for one in free if one not in taken), alter.first_part(code))
        taken.add(found[alter.first_part(code)])
    return found


def _called(project: Project, alteration: Alteration, names: Mapping[str, str]) -> dict[str, altered_rows.Called]:
    """What added activities are called and which row they are like; the first part of split work is like the whole."""
    found = {one.id: altered_rows.Called(names.get(one.id, "") or one.id) for one in alteration.add}
    for part, code in _first_parts(project, alteration).items():
        whole = next(one for one in alteration.splits if alter.first_part(one) == part)
        found[code] = altered_rows.Called("", like=whole)
    return found


def _told(found: Mapping[str, Any]) -> str:
    """What an alteration is about in a few words: the codes and calendars it touches."""
    codes = [*found.get("changed", ()), *found.get("added", ()), *found.get("removed", ())]
    codes += [row[0] for row in found.get("links_added", ())]
    names = [*found.get("weekdays", ()), *(row[0] for key in ("extra_days", "closures") for row in found.get(key, ()))]
    about = list(dict.fromkeys([*codes, *names]))
    return ", ".join(about[:6]) + (" …" if len(about) > 6 else "") if about else _("nothing")
