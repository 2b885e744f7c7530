"""What-ifs in words: the steps that are put together, the sentence that answers, and the message to send."""

from datetime import date

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from projects import display
from projects.models import Project
from schedule.calc.steps import Step
from schedule.calc.whatif import Answer, Call, Move
from schedule.selectors.questions import Asked, Ground, Kept


def weekday(number: int) -> str:
    """A weekday by its number, 1 for Monday."""
    return (
        _("Monday"), _("Tuesday"), _("Wednesday"), _("Thursday"), _("Friday"), _("Saturday"), _("Sunday"),
    )[number - 1]  # fmt: skip


def step(one: Step, ground: Ground, locale: str) -> str:
    """One thing that happens, as a sentence."""
    told = {"about": ground.label(one.about), "calendar": one.about}
    told |= {f"v{place}": _value(value, locale) for place, value in enumerate(one.values)}
    if one.kind == "after":
        return _after(one, ground)
    if one.kind == "weekday":
        told["v0"] = weekday(int(str(one.values[0])))
    return _sentences(one)[one.kind] % told


def _value(value: int | date | str, locale: str) -> str:
    return display.day(value, locale) if isinstance(value, date) else str(value)


def _sentences(one: Step) -> dict[str, str]:
    count = one.values[0] if one.values and isinstance(one.values[0], int) else 1
    return {
        "away": _("%(calendar)s: closed from %(v0)s to %(v1)s"),
        "late": ngettext("%(about)s comes %(v0)s day late", "%(about)s comes %(v0)s days late", count),
        "length": ngettext("%(about)s takes %(v0)s day", "%(about)s takes %(v0)s days", count),
        "start": _("%(about)s: not before %(v0)s"),
        "misses": ngettext("%(about)s misses %(v0)s visit", "%(about)s misses %(v0)s visits", count),
        "split": _("%(about)s in two parts, of %(v0)s and %(v2)s days, with %(v1)s between"),
        "day": _("%(calendar)s: works on %(v0)s"),
        "weekday": _("%(calendar)s: works every %(v0)s as well"),
        "out": _("%(about)s is left out"),
    }


def _after(one: Step, ground: Ground) -> str:
    kind, lag, elapsed, before = one.values
    told = {"about": ground.label(one.about), "before": ground.label(str(before)), "kind": kind, "lag": lag}
    if not lag:
        return _("%(about)s waits for %(before)s (%(kind)s)") % told
    if elapsed:
        return _("%(about)s waits for %(before)s (%(kind)s, %(lag)s calendar days between)") % told
    return _("%(about)s waits for %(before)s (%(kind)s, %(lag)s working days between)") % told


def opens(answer: Answer) -> str:
    """What the finish is called: with a day to open on it is the opening."""
    return _("The opening") if answer.target else _("The finish")


def sentence(answer: Answer, ground: Ground, project: Project) -> str:
    """What it comes to: whether the opening moves and what the days and the rest cost; else how much float is used."""
    told = {"what": opens(answer), "day": display.day(answer.finish_after, project.locale)}
    told["by"] = display.days(abs(answer.days))
    if answer.days > 0:
        return _("%(what)s moves %(by)s to %(day)s") % told + _money(answer, project)
    if answer.days < 0:
        return _("%(what)s comes %(by)s forward to %(day)s") % told + _money(answer, project)
    return _("%(what)s stays on %(day)s") % told + _used(answer, ground) + _besides(answer, project)


def _money(answer: Answer, project: Project) -> str:
    """What the moved days cost or save, and what is paid besides."""
    if not answer.days_minor:
        return _besides(answer, project)
    days = display.money(abs(answer.days_minor), project, brief=True)
    more, later = display.money(abs(answer.cost_minor), project, brief=True), answer.days > 0
    if not answer.cost_minor:
        return (_(": %s for the days.") if later else _(": %s saved on the days.")) % days
    told = {"days": days, "more": more, "net": display.money(abs(answer.net_minor), project, brief=True)}
    if later and answer.cost_minor > 0:
        return _(": %(days)s for the days and %(more)s besides, %(net)s in all.") % told
    if not later and answer.cost_minor < 0:
        return _(": %(days)s saved on the days and %(more)s besides, %(net)s in all.") % told
    return _mixed(answer) % told


def _mixed(answer: Answer) -> str:
    if answer.days > 0:
        end = _("%(net)s more in all.") if answer.net_minor > 0 else _("%(net)s less in all.")
        return _(": %(days)s for the days, less %(more)s saved besides; ") + end
    end = _("%(net)s more in all.") if answer.net_minor > 0 else _("%(net)s less in all.")
    return _(": %(days)s saved on the days, and it costs %(more)s; ") + end


def _besides(answer: Answer, project: Project) -> str:
    if not answer.cost_minor:
        return "."
    words = _("; it costs %s.") if answer.cost_minor > 0 else _("; it saves %s.")
    return words % display.money(abs(answer.cost_minor), project, brief=True)


def _used(answer: Answer, ground: Ground) -> str:
    """How much float of what was changed is used, where the finish does not move."""
    tight = answer.tightest
    if tight is None or tight.float_before <= 0:
        return "" if answer.moved else _("; nothing else moves")
    told = {"used": tight.eaten, "had": tight.float_before, "about": ground.label(tight.code)}
    words = ngettext(
        "; %(used)d of %(had)d working days of float of %(about)s is used",
        "; %(used)d of %(had)d working days of float of %(about)s are used",
        tight.eaten,
    )
    return words % told


def target(answer: Answer) -> str:
    """How it stands against the day of opening, before and after."""
    if answer.late_before is None or answer.late_after is None:
        return ""
    if answer.late_before == answer.late_after:
        return _("Against the target nothing changes: %s.") % _late(answer.late_after)
    return _("Against the target: %(before)s as things stand, %(after)s with this.") % {
        "before": _late(answer.late_before),
        "after": _late(answer.late_after),
    }


def _late(days: int) -> str:
    if not days:
        return _("on the day")
    return (_("%s late") if days > 0 else _("%s early")) % display.days(abs(days))


def short(answer: Answer, project: Project) -> str:
    """The answer in a few words, for a list: "+7 days, Fri 4 Jun 2027"."""
    day = display.day(answer.finish_after, project.locale)
    if not answer.days:
        return _("unmoved, %s") % day
    sign = "+" if answer.days > 0 else display.MINUS
    return f"{sign}{display.days(abs(answer.days))}, {day}"


def moved_by(days: int) -> str:
    """How far a start moves."""
    if not days:
        return _("same day")
    return (_("%s later") if days > 0 else _("%s earlier")) % display.days(abs(days))


def float_change(move: Move) -> str:
    """Float before and after: "9 → 2"."""
    return f"{move.float_before} → {move.float_after}".replace("-", display.MINUS)


def call(one: Call, ground: Ground, locale: str) -> str:
    """A message for one person that can be sent as it is."""
    told = {
        "about": ground.read.names.get(one.code, one.code),
        "before": display.day(one.start_before, locale),
        "after": display.day(one.start_after, locale),
    }
    return _("%(about)s moves from %(before)s to %(after)s.") % told


def message(asked: Asked, ground: Ground, project: Project, happens: list[str]) -> str:
    """A message for everybody whom it concerns, as plain text; says that it is asked only."""
    lines = [_("%s: asked only, nothing is changed yet.") % project.name, *(f"- {line}" for line in happens), ""]
    lines.append(sentence(asked.answer, ground, project))
    if asked.calls:
        lines += ["", _("Days that would move:")]
        lines += [f"- {one.who}: {call(one, ground, project.locale)}" for one in asked.calls]
    return "\n".join(lines)


def happens(kept: Kept, ground: Ground, locale: str) -> list[str]:
    """What a kept question asks, a sentence to a step, and what it adds."""
    return [step(one, ground, locale) for one in kept.steps] + [_("%s is put in") % name for name in kept.added]
