"""The contingency, the funds and the next weeks as parts of the owners' paper."""

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from projects import display
from reports.pdf.pieces import Build, Part, cell, figure, table, text


def signal(name: str) -> str:
    """The word for how well the contingency covers what is open."""
    return {"well": _("covered well"), "amber": _("amber"), "red": _("red")}[name]


def cover(page: Mapping[str, Any], build: Build) -> str:
    """How often what is left covers what is open, with its signal; empty where nothing is open."""
    seen = page["reserve"]
    if not seen or seen["ratio"] is None:
        return ""
    times = display.number(Decimal(seen["ratio"]), build.locale)
    return _("covers what is open %(times)s times: %(signal)s") % {"times": times, "signal": signal(seen["signal"])}


def room(funds: Mapping[str, Any], build: Build) -> Part:
    """The figure that says whether the funds suffice."""
    label = _("Room in the funds") if funds["room"] >= 0 else _("Short of funds")
    note = _("of %(all)s promised; %(room)s after open risk") % {
        "all": build.brief(funds["promised"]), "room": build.brief(funds["room_after_risk"]),
    }  # fmt: skip
    return figure(label, build.brief(abs(funds["room"])), note)


def changes(rows: Sequence[Mapping[str, Any]], build: Build) -> Iterator[Part]:
    """Changes that wait for an owner."""
    if rows:
        head = [_("Change"), _("Why"), _("Waits since"), _("Amount")]
        cells = [
            [
                cell(f"{row['code']} {row['title']} ({row['line']})"), cell(row["reason"]), cell(build.day(row["since_on"])),
                build.signed(row["amount"]),
            ]
            for row in rows
        ]  # fmt: skip
        yield table(_("Changes above what the lead may agree to"), head, cells)


def reserve(seen: Mapping[str, Any] | None, build: Build) -> Iterator[Part]:
    if not seen:
        return
    rows = [
        (_("At the start"), seen["start"]), (_("Drawn for agreed changes"), -seen["drawn"]), (_("Left"), seen["left"]),
        (_("Likely draws, by their chance"), -seen["likely"]), (_("Left after likely draws"), seen["left_after_likely"]),
        (_("Open risk, by its chance"), seen["risk"]), (_("Spread of lines without a firm price"), seen["spread"]),
        (_("Over budget and not covered by a draw yet"), seen["uncovered"]),
    ]  # fmt: skip
    yield table(
        _("Contingency and what it has to cover"), [_("What"), _("Amount")],
        [[cell(label), build.cell(amount)] for label, amount in rows],
    )  # fmt: skip
    if words := cover({"reserve": seen}, build):
        yield text(_("What is left %s.") % words)
    yield text(_("Amber is under one and a half times what is open, red under once."), soft=True)


def funds(seen: Mapping[str, Any] | None, build: Build) -> Iterator[Part]:
    if not seen:
        return
    rows = [
        (_("Promised"), seen["promised"]), (_("Received"), seen["received"]), (_("Paid"), seen["paid"]),
        (_("In hand"), seen["in_hand"]), (_("Still to be called for"), seen["undrawn"]),
        (_("Still to be paid until the end"), seen["to_complete"]), (_("Room"), seen["room"]),
        (_("Room after open risk"), seen["room_after_risk"]),
        (_("Room if open prices end at their highest, too"), seen["room_at_worst"]),
    ]  # fmt: skip
    yield table(
        _("Funds against what is still to be paid"), [_("What"), _("Amount")],
        [[cell(label), build.cell(amount)] for label, amount in rows],
    )  # fmt: skip


def weeks(rows: Sequence[Mapping[str, Any]], build: Build) -> Iterator[Part]:
    """What falls due, a row a week with its names, as it leaves the bank."""
    if rows:
        cells = [[cell(_week(week, build)), build.cell(week["total"])] for week in rows]
        yield table(_("What falls due, with its tax"), [_("Week and to whom"), _("Amount")], cells)


def _week(week: Mapping[str, Any], build: Build) -> str:
    names = "; ".join(f"{item['name']} {build.brief(item['amount'])}" for item in week["items"])
    return _("Week of %(day)s: %(names)s") % {"day": build.day(week["first_on"]), "names": names}
