"""The comparison as a table: options in columns, what they rest on in rows.

Drawn from the content that a record freezes (`freezing.content`), so an open decision and a record of long ago are laid
out by the same hand.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from decisions.calc import ranking

Content = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Cell:
    """One figure of one option. `kind`: money, signed (above zero is over), percent, days, day, text or verdict."""

    kind: str
    value: Any = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    label: str
    cells: tuple[Cell, ...]
    note: str = ""
    total: bool = False


@dataclass(frozen=True, slots=True)
class Group:
    title: str
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Column:
    """An option at the head of the table; `passes` is None while a check is not answered."""

    key: str
    name: str
    passes: bool | None
    best: bool
    chosen: bool
    note: str


@dataclass(frozen=True, slots=True)
class Sheet:
    columns: tuple[Column, ...]
    groups: tuple[Group, ...]
    ranking: ranking.Ranking

    @property
    def span(self) -> int:
        """How many columns the table has, with the one of the row heads."""
        return len(self.columns) + 1

    def column(self, key: str | None) -> Column | None:
        return next((column for column in self.columns if column.key == key), None)


def lay_out(content: Content) -> Sheet:
    """Turn content into a table. Groups in which no option has a figure are left out. Queries: none."""
    options = content["options"]
    ranked = rank(options)
    chosen = content.get("choice", {}).get("option")
    columns = tuple(
        Column(o["key"], o["name"], o["outcome"]["passes"], o["key"] == ranked.best, o["key"] == chosen, o["note"])
        for o in options
    )
    groups = (
        Group(_("In all"), tuple(_totals(content, ranked))),
        Group(_("First cost"), tuple(_first_cost(content))),
        Group(_("Time"), tuple(_time(content))),
        Group(_("If it has to be moved later"), tuple(_adjustability(content))),
        Group(_("Upkeep"), tuple(_upkeep(content))),
        Group(_("Must pass"), tuple(_checks(content))),
        Group(_("Ordering"), tuple(_ordering(content))),
    )
    return Sheet(columns, tuple(group for group in groups if group.rows), ranked)


def rank(options: Sequence[Content]) -> ranking.Ranking:
    """Rank the options of some content."""
    return ranking.rank(
        [
            ranking.Entrant(o["key"], o["outcome"]["expected_total_minor"], barred=o["outcome"]["passes"] is False)
            for o in options
        ]
    )


def _row(
    label: str, options: Sequence[Content], cell: Callable[[Content], Cell], *, note: str = "", total: bool = False
) -> Row:
    return Row(label, tuple(cell(option) for option in options), note, total)


def _outcome(name: str, kind: str = "money") -> Callable[[Content], Cell]:
    return lambda option: Cell(kind, option["outcome"][name])


def _totals(content: Content, ranked: ranking.Ranking) -> Iterator[Row]:
    options = content["options"]
    totals = {o["key"]: o["outcome"]["expected_total_minor"] for o in options}
    yield _row(_("Expected total"), options, _outcome("expected_total_minor"), total=True)
    if ranked.best and len(options) > 1:
        lowest = totals[ranked.best]

        def to_best(option: Content) -> Cell:
            best = option["key"] == ranked.best
            return Cell("text", _("lowest")) if best else Cell("signed", totals[option["key"]] - lowest)

        yield _row(_("Against the lowest that may be built"), options, to_best)
    yield from _yardsticks(content)


def _yardsticks(content: Content) -> Iterator[Row]:
    """Both yardsticks, each on the price of the lines, and what effects on other lines make of the saving."""
    options, lines = content["options"], content["lines"]
    originals = [line["original_minor"] for line in lines]
    if originals and None not in originals:
        yield _row(
            _("Price against the original quote"), options, _against(sum(originals)), note=_("below zero is saved")
        )
        if any(o["outcome"]["effects_minor"] for o in options):
            yield _row(_("… with effects on other lines"), options, _against(sum(originals), "first_cost_minor"))
    else:
        yield _row(_("Price against the original quote"), options, lambda _o: Cell("text", _("no original quote")))
    budget = sum(line["budget_minor"] for line in lines)
    yield _row(
        _("Its lines against the budget"), options, _against(budget, "on_lines_minor"), note=_("above zero is over")
    )


def _against(yardstick: int, name: str = "price_minor") -> Callable[[Content], Cell]:
    return lambda option: Cell("signed", option["outcome"][name] - yardstick)


def _first_cost(content: Content) -> Iterator[Row]:
    options = content["options"]
    yield from _shared(options)
    for line in content["lines"]:
        yield from _line_items(options, line)
    for code in _codes(options):
        yield _row(_("Effect on %s") % code, options, _effect_on(code))
    yield _row(_("First cost"), options, _outcome("first_cost_minor"), total=True)


def _line_items(options: Sequence[Content], line: Content) -> Iterator[Row]:
    of_line = {
        o["key"]: [item for item in o["items"] if item["line"] == line["code"] and not item["shared"]] for o in options
    }
    for place in range(max((len(items) for items in of_line.values()), default=0)):

        def cell(option: Content, place: int = place) -> Cell:
            items = of_line[option["key"]]
            return _item(items[place], option["name"]) if place < len(items) else Cell("text", "")

        yield _row(f"{line['code']} {line['description']}", options, cell, note=_("further") if place else "")


def _shared(options: Sequence[Content]) -> Iterator[Row]:
    names = dict.fromkeys((i["line"], i["name"]) for o in options for i in o["items"] if i["shared"])
    for line, name in names:

        def cell(option: Content, line: str = line, name: str = name) -> Cell:
            found = [i for i in option["items"] if i["shared"] and (i["line"], i["name"]) == (line, name)]
            return Cell("money", sum(i["amount_minor"] for i in found)) if found else Cell("text", "")

        yield _row(name, options, cell, note=_("shared"))


def _item(item: Content, option_name: str) -> Cell:
    quote = item["quote"]
    if quote:
        words = quote["vendor"]
    elif item["quantity"] and item["rate"]:
        words = _("estimate: %(quantity)s × %(rate)s") % {"quantity": item["quantity"], "rate": item["rate"]}
    else:
        words = _("estimate")
    named = item["name"] and item["name"] != option_name and item["name"] != (quote or {}).get("vendor")
    return Cell("money", item["amount_minor"], f"{item['name']}, {words}" if named else words)


def _codes(options: Sequence[Content]) -> list[str]:
    return list(dict.fromkeys(effect["line"] for option in options for effect in option["effects"]))


def _effect_on(code: str) -> Callable[[Content], Cell]:
    return lambda option: _effect(option, code)


def _effect(option: Content, code: str) -> Cell:
    found = [effect for effect in option["effects"] if effect["line"] == code]
    if not found:
        return Cell("text", "")
    return Cell("signed", sum(e["amount_minor"] for e in found), "; ".join(e["why"] for e in found if e["why"]))


def _time(content: Content) -> Iterator[Row]:
    options = content["options"]
    if any(_finish(o) for o in options):
        yield _row(_("Opening expected"), options, lambda o: Cell("day", _finish(o)))
    if any(o["extra_days"] for o in options):
        yield _row(
            _("Longer than the quickest"), options, lambda o: Cell("days", None if "plan" in o else o["extra_days"])
        )
    elif not any("plan" in o for o in options):
        return
    yield _row(_("What that does"), options, lambda o: Cell("text", time_words(o)))
    yield _row(_("Cost of the days"), options, _outcome("cost_of_days_minor"), total=True)


def _finish(option: Content) -> date | None:
    """When the project opens with an option; None where the plan was not asked."""
    finish = option.get("plan", {}).get("finish")
    return date.fromisoformat(finish) if finish else None


def time_words(option: Content) -> str:
    """Say what an option's days do to the opening."""
    plan = option.get("plan")
    if plan:
        return plan_words(plan) if "finish" in plan else plan["fault"]
    used, later, left = option["outcome"]["float_used"], option["outcome"]["days_later"], option["float_days"]
    if not option["extra_days"]:
        return _("no float used, opening unmoved")
    if not later:
        return _("uses %(used)d of %(left)d days of float, opening unmoved") % {"used": used, "left": left}
    moved = ngettext("opening %d day later", "opening %d days later", later) % later
    if not left:
        return moved
    return _("uses all %(left)d days of float, %(moved)s") % {"left": left, "moved": moved}


def plan_words(plan: Content) -> str:
    """Say what the network says of an option: "uses 6 of 9 working days of float, opening unmoved"."""
    used, left, move = plan["float_used"], plan["float_days"], plan["moved_days"]
    told = {"used": used, "left": left, "moved": moved_words(move)}
    if not used:
        return told["moved"] if move else _("no float used, opening unmoved")
    if used == left:
        return _("uses all %(left)d working days of float, %(moved)s") % told
    return _("uses %(used)d of %(left)d working days of float, %(moved)s") % told


def moved_words(days: int) -> str:
    """Say how the opening moves [calendar days, later above zero]."""
    if not days:
        return _("opening unmoved")
    if days > 0:
        return ngettext("opening %d day later", "opening %d days later", days) % days
    return ngettext("opening %d day earlier", "opening %d days earlier", -days) % -days


def _adjustability(content: Content) -> Iterator[Row]:
    options = content["options"]
    if any(o["adjust"]["how"] for o in options):
        yield _row(_("How"), options, lambda o: Cell("text", o["adjust"]["how"]))
    if not any(Decimal(o["outcome"]["chance_of_correction"]) for o in options):
        return
    yield _row(_("Chance"), options, _chance)
    yield _row(_("Cost of one correction"), options, lambda o: Cell("money", o["adjust"]["cost_minor"]))
    yield _row(_("Days of one correction"), options, lambda o: Cell("days", o["adjust"]["days"]))
    yield _row(_("Expected correction"), options, _outcome("correction_minor"), total=True)


def _chance(option: Content) -> Cell:
    axes = option["adjust"]["axes"] if option["adjust"]["chance"] is None else []
    words = ("; ").join(
        _("%(axis)s: ±%(allows)s, spread %(spread)s") % {"axis": name, "allows": allows, "spread": spread}
        for name, allows, spread in axes
    )
    return Cell("percent", round(Decimal(option["outcome"]["chance_of_correction"]), 4), words)


def _upkeep(content: Content) -> Iterator[Row]:
    options = content["options"]
    if any(o["outcome"]["running_minor"] for o in options):
        yield _row(_("A year"), options, lambda o: Cell("money", o["running"]["yearly_minor"], _years(o["running"])))
        yield _row(_("Over those years"), options, _outcome("running_minor"), total=True)


def _years(running: Content) -> str:
    if not running["years"]:
        return ""
    years = ngettext("over %d year", "over %d years", running["years"]) % running["years"]
    percent = running["discount_percent"]
    return _("%(years)s, discounted at %(percent)s%%") % {"years": years, "percent": percent} if percent else years


def _checks(content: Content) -> Iterator[Row]:
    options = content["options"]
    for place, check in enumerate(options[0]["checks"] if options else ()):
        yield _row(check["name"], options, _verdict_at(place), note=bounds(check))


def bounds(check: Content) -> str:
    """Say what a check holds a figure to."""
    unit = f" {check['unit']}" if check["unit"] else ""
    low, high = check["at_least"], check["at_most"]
    if low is not None and high is not None:
        return _("%(low)s to %(high)s") % {"low": low, "high": high} + unit
    if low is not None:
        return _("at least %s") % low + unit
    return _("at most %s") % high + unit if high is not None else ""


def _verdict_at(place: int) -> Callable[[Content], Cell]:
    return lambda option: _verdict(option["checks"][place])


def _verdict(check: Content) -> Cell:
    unit = f" {check['unit']}" if check["unit"] else ""
    value = f"{check['value']}{unit}" if check["value"] is not None else ""
    return Cell("verdict", check["verdict"], ", ".join(words for words in (value, check["note"]) if words))


def _ordering(content: Content) -> Iterator[Row]:
    options = content["options"]
    if any(o["lead_days"] is not None for o in options):
        yield _row(_("Lead time"), options, lambda o: Cell("days", o["lead_days"]))
    if any(_first_expiry(o) for o in options):
        yield _row(_("Price holds until"), options, lambda o: Cell("day", _first_expiry(o)))
    if any(o["note"] for o in options):
        yield _row(_("Note"), options, lambda o: Cell("text", o["note"]))


def _first_expiry(option: Content) -> date | None:
    dates = [item["quote"].get("valid_until") for item in option["items"] if item["quote"]]
    return min((date.fromisoformat(on) for on in dates if on), default=None)
