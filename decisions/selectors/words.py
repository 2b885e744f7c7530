"""What would change our mind, in words: "D wins with the price of B at £40,620 or more"."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from decisions.calc import ranking
from projects import display
from projects.models import Project

Content = Mapping[str, Any]
_PLACE = re.compile(r"\[(\d+)\]")


@dataclass(frozen=True, slots=True)
class FlipLine:
    """One input: who wins, what has to happen, and where the input stands now."""

    sentence: str
    now: str


@dataclass(frozen=True, slots=True)
class FlipWords:
    """`near` are the few inputs nearest to changing the answer, `far` the rest that could; `steady` how many cannot."""

    near: tuple[FlipLine, ...]
    far: tuple[FlipLine, ...]
    steady: int


NEAR = 6


def flips(content: Content, ranked: ranking.Ranking, project: Project) -> FlipWords:
    """Put the inputs that could change the answer into words, the nearest first. Queries: none."""
    able = [flip for flip in content["flips"] if flip["flips_at"] is not None]
    able.sort(key=lambda flip: ranking.nearness(Decimal(flip["now"]), Decimal(flip["flips_at"])))
    lines = [(_sort_of(flip), _line(flip, content, ranked, project)) for flip in able]
    near = _one_of_each(lines)
    far = tuple(line for _sort, line in lines if line not in near)
    return FlipWords(near, far, len(content["flips"]) - len(able))


def _sort_of(flip: Content) -> str:
    """Prices are one sort, chances another: the short list shows the nearest of each, not five prices."""
    return _PLACE.sub("", flip["input"])


def _one_of_each(lines: list[tuple[str, FlipLine]]) -> tuple[FlipLine, ...]:
    nearest: dict[str, FlipLine] = {}
    for sort, line in lines:
        nearest.setdefault(sort, line)
    return tuple(nearest.values())[:NEAR]


def _line(flip: Content, content: Content, ranked: ranking.Ranking, project: Project) -> FlipLine:
    option = next((o for o in content["options"] if o["key"] == flip["option"]), None)
    at, now = (_figure(flip, side, option, project) for side in ("flips_at", "now"))
    more = Decimal(flip["flips_at"]) >= Decimal(flip["now"])
    bound = (_("%s or more") if more else _("%s or less")) % at
    if option is None:
        return FlipLine(_("Another option wins with a day at %s") % bound, now)
    winner = ranked.next if option["key"] == ranked.best else option["key"]
    words = _("%(winner)s wins with %(input)s at %(bound)s")
    return FlipLine(words % {"winner": winner or _("Another"), "input": _input(flip, option), "bound": bound}, now)


def _figure(flip: Content, side: str, option: Content | None, project: Project) -> str:
    value, name = flip[side], flip["input"]
    if flip["kind"] == "money":
        return display.money(int(value), project, brief=True)
    if flip["kind"] == "whole":
        words = (
            ngettext("%d year", "%d years", int(value))
            if name == "years"
            else ngettext("%d day", "%d days", int(value))
        )
        return words % int(value)
    if name in {"adjust.chance", "discount"}:
        return display.percent(round(Decimal(value), 3), project.locale)
    return display.number(Decimal(value), project.locale)


def _input(flip: Content, option: Content) -> str:
    key, name = option["key"], flip["input"]
    found = _PLACE.search(name)
    place = int(found[1]) if found else 0
    plain = {
        "days.extra": _("the extra time of %s"),
        "days.float": _("the float that %s may use"),
        "adjust.chance": _("the chance of correction of %s"),
        "adjust.cost": _("the cost of one correction of %s"),
        "adjust.days": _("the time of one correction of %s"),
        "adjust.float": _("the float left for a correction of %s"),
        "yearly_cost": _("the yearly upkeep of %s"),
        "years": _("the years of upkeep of %s"),
        "discount": _("the discount on the upkeep of %s"),
    }
    if name in plain:
        return plain[name] % key
    return _placed_input(name, place, option)


def _placed_input(name: str, place: int, option: Content) -> str:
    key = option["key"]
    if name.startswith("items"):
        if len(option["items"]) == 1:
            return _("the price of %s") % key
        return _("“%(item)s” of %(option)s") % {"item": option["items"][place]["name"], "option": key}
    if name.startswith("effects"):
        return _("the effect of %(option)s on %(line)s") % {"option": key, "line": option["effects"][place]["line"]}
    if name.startswith("must_pass"):
        return _("“%(check)s” of %(option)s") % {"check": option["checks"][place]["name"], "option": key}
    axis = option["adjust"]["axes"][place][0]
    moves = name.endswith("allows")
    words = _("the movement of %(option)s along %(axis)s") if moves else _("the spread of %(option)s along %(axis)s")
    return words % {"option": key, "axis": axis}
