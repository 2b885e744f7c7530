"""Hold points in words: what is missing, state by state."""

from collections.abc import Iterable
from typing import TYPE_CHECKING

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from projects import display
from projects.models import Project
from schedule.calc.gates import NO, OVERRULED, RELEASED, UNNAMED, Check, Lack, Work, overrule_of

if TYPE_CHECKING:
    from schedule.selectors.hold_facts import Covering, Hold, Visit
    from schedule.selectors.holds import Book


def missing(lack: Lack) -> str:
    """One thing that keeps a hold point from being released, as a sentence without a stop."""
    if lack.check is None:
        return _by_signer(lack)
    return _failed(lack.check) if lack.kind == "failed" else _unshown(lack.check)


def _by_signer(lack: Lack) -> str:
    words = {
        "unnamed": _("No check is named yet: say what has to be shown"),
        "unsigned": _("%(role)s has not signed"),
        "early": _("%(role)s signed before everything was shown to pass, and has to sign again"),
    }
    return words[lack.kind] % {"role": lack.role}


def _unshown(check: Check) -> str:
    words = {
        "reading": _("%(check)s: reading missing"),
        "photograph": _("%(check)s: photograph missing"),
        "document": _("%(check)s: document missing"),
        "word": _("%(check)s: note missing"),
    }
    return words[check.evidence] % {"check": check.text}


def _failed(check: Check) -> str:
    found = check.newest.value if check.newest else ""
    told = {"check": check.text, "found": found, "limit": check.limit}
    if found and check.limit:
        return _("%(check)s failed: %(found)s, limit %(limit)s") % told
    if found:
        return _("%(check)s failed: %(found)s") % told
    return (_("%(check)s failed, limit %(limit)s") if check.limit else _("%(check)s failed")) % told


def sentences(lacks: Iterable[Lack]) -> tuple[str, ...]:
    return tuple(missing(lack) for lack in lacks)


def counted(proofs: int, signatures: int) -> str:
    """ "7 proofs and 3 signatures are missing", or what there is of it; empty for nothing."""
    shown = ngettext("%d proof", "%d proofs", proofs) % proofs if proofs else ""
    signed = ngettext("%d signature", "%d signatures", signatures) % signatures if signatures else ""
    if shown and signed:
        return _("%(proofs)s and %(signatures)s are missing") % {"proofs": shown, "signatures": signed}
    one = proofs + signatures == 1
    if not shown and not signed:
        return ""
    return (_("%s is missing") if one else _("%s are missing")) % (shown or signed)


def sentence(answers: Iterable["Covering"], book: "Book", project: Project) -> str:
    """The answer of the page of hold points: the first thing that is held up, or that nothing is."""
    if not book.holds:
        return _("No hold point is named yet.")
    stopped = [one for one in answers if one.verdict == NO]
    if stopped:
        return held_up(stopped[0], project)
    waiting = sum(hold.state != RELEASED for hold in book.holds)
    words = ngettext("%d hold point is open", "%d hold points are open", waiting) % waiting
    return _("Nothing that covers is held up; %s.") % words if waiting else _("Every hold point is released.")


def held_up(answer: "Covering", project: Project) -> str:
    """Why one activity may not start, when it is planned, and what covering it wrong costs."""
    told = {
        "name": answer.work.name, "missing": answer.counted, "day": _on(answer, project),
        "cost": display.money(answer.cost_if_wrong_minor, project, brief=True),
    }  # fmt: skip
    stop, wait = (
        _("%(name)s has begun and has to stop: %(missing)s"),
        _("%(name)s%(day)s may not go on yet: %(missing)s"),
    )
    words = stop if answer.begun else wait
    return (words + (_("; covering it wrong costs %(cost)s.") if answer.cost_if_wrong_minor else ".")) % told


def _on(answer: "Covering", project: Project) -> str:
    return _(" on %s") % display.day(answer.needed_by, project.locale) if answer.needed_by else ""


def verdict(answer: "Covering") -> str:
    """The answer in a word or two."""
    words = {NO: _("no"), OVERRULED: _("yes, overruled"), UNNAMED: _("nothing to check is named")}
    return words.get(answer.verdict, _("yes"))


def stands(hold: "Hold") -> str:
    """How a hold point stands, as the sentence of its page."""
    told = {"hold": hold.title, "missing": hold.counted}
    if hold.state == RELEASED:
        return _("%(hold)s is released.") % told
    return (
        _("%(hold)s has failed: %(missing)s.") if hold.state == "failed" else _("%(hold)s is open: %(missing)s.")
    ) % told


def notice(visit: "Visit", project: Project) -> str:
    """When they come, and until when to ask them."""
    told = {"by": visit.by, "days": display.working_days(visit.notice_days)}
    for name, on in (("on", visit.on), ("ask", visit.ask_by), ("first", visit.earliest_on)):
        told[name] = display.day(on, project.locale) if on else ""
    who = _("%(by)s: ") % told if visit.by else ""
    if visit.booked:
        return who + _("booked for %(on)s.") % told
    if not visit.on:
        return ""
    if visit.ask_by is None:
        return who + _("planned for %(on)s.") % told
    if visit.late:
        words = _(
            "planned for %(on)s, and had to be asked by %(ask)s (%(days)s of notice); asked today, they come on %(first)s or later."
        )
        return who + words % told
    return who + _("planned for %(on)s; ask by %(ask)s (%(days)s of notice).") % told


def stops(hold: "Hold", project: Project) -> str:
    """What an open hold point keeps from starting, and what covering it wrong costs; empty where it keeps nothing."""
    waiting = [work for work in hold.stops if not work.started_on]
    if hold.state == RELEASED or hold.gate.kind != "hold" or not waiting:
        return ""
    gone_over = [work for work in waiting if overrule_of(hold.gate, work.key)]
    stopped = [work for work in waiting if work not in gone_over]
    said = []
    if stopped:
        said.append(_("Until it is released it stops %s.") % _named(stopped, project))
    if gone_over:
        said.append(_("It is overruled for %s.") % _named(gone_over, project))
    words = " ".join(said)
    cost = display.money(hold.gate.cost_if_wrong_minor, project, brief=True)
    return f"{words} {_('Covering it wrong costs %s.') % cost}" if hold.gate.cost_if_wrong_minor else words


def _named(works: Iterable[Work], project: Project) -> str:
    return ", ".join(
        _("%(work)s on %(day)s") % {"work": work, "day": display.day(work.starts_on, project.locale)}
        if work.starts_on
        else str(work)
        for work in works
    )
