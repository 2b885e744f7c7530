"""The owners' page as the words and figures of a paper, in the order in which the template sets them.

The template knows nothing of money or dates: every cell comes as text, with "over" or "saved" beside it where it is a
difference, so that the paper says what the page says. Sentences that the page has, too, come from its own templates.
"""

import html
import re
from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

from django.template.loader import render_to_string
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from projects import display
from reports.pdf import bridge, money_words, work_words
from reports.pdf.pieces import Build, Part
from reports.pdf.pieces import cell as _cell
from reports.pdf.pieces import figure as _figure
from reports.pdf.pieces import section as _section
from reports.pdf.pieces import table as _table
from reports.pdf.pieces import text as _text
from reports.selectors import owners


def paper(content: owners.Content, *, stamp: str = "") -> Part:
    """Write the paper of a content.

    Args:
        stamp: which report it is and who issued it; empty for a page that was not issued.
    """
    page, project = owners.for_page(content), content["project"]
    build = Build(project["name"], project["currency"], project["locale"])
    return {
        "lang": project["locale"].partition("-")[0].lower(),
        "region": project["locale"].rpartition("-")[2].lower(),
        "title": _("%s: the page for the owners") % build.name,
        "project": build.name,
        "day": build.day(page["on"]),
        "facts": [build.name, build.day(page["on"]), *_facts(project, build, is_planned=page["opening"] is not None)],
        "sentence": _said("_sentence", page=page, holder=build),
        "stamp": stamp,
        "note": content.get("note", ""),
        "page": _("page"),
        "figures": list(_figures(page, build)),
        "sections": [part for part in _sections(content, page, build) if part["parts"]]
        if page["total"]["lines"]
        else [],
    }


def _said(name: str, **context: Any) -> str:
    """A sentence of the page without its tags."""
    text = re.sub(r"<[^>]+>", "", render_to_string(f"reports/owners/{name}.html", context))
    return " ".join(html.unescape(text).split()).replace(" ;", ";").replace(" .", ".")


def _figures(page: Mapping[str, Any], build: Build) -> Iterator[Part]:
    """The five numbers. Long because it is a list."""
    total, asked = page["total"], page["asks"]
    if not total["lines"]:
        return
    note = _("first budget %s; contingency apart") % build.brief(total["budget"])
    yield _figure(
        _("Likely final"), build.brief(total["likely"]), note, build.against(total["over_budget"], "first_budget")
    )
    label = _("Decisions cost extra") if page["saved"] > 0 else _("Saved against the original quotes")
    yield _figure(label, build.brief(page["saved_size"]), _come_true(page["savings"], build))
    if page["contingency"]:
        note = money_words.cover(page, build) or _("of %s at the start") % build.brief(page["contingency"]["start"])
        yield _figure(_("Contingency left"), build.brief(page["contingency"]["left"]), note)
    waits = ngettext("thing waits for a word", "things wait for a word", asked) if asked else ""
    yield _figure(_("Asked of the owners"), str(asked), waits or _("nothing waits for a word"))
    if page["funds"]:
        yield money_words.room(page["funds"], build)
        return
    note = _("of %(all)s, agreed at %(agreed)s") % {"all": total["lines"], "agreed": build.brief(total["agreed"])}
    yield _figure(_("Lines let"), str(total["let"]), note)


def _sections(content: owners.Content, page: Mapping[str, Any], build: Build) -> Iterator[Part]:
    asked = [_told(row, build) for row in page["asked"]]
    yield _section(_("Asked of the owners"), [*asked, *money_words.changes(page["changes"], build)])
    yield _section(_("When it opens"), list(work_words.opening(page, build, _said)))
    yield _section(_("Hold points overruled"), list(work_words.gone_over(page, build, _said)))
    yield _section(_("Not cleared to be covered"), list(work_words.covering(page, build, _said)))
    yield _section(_("How the first budget became the likely final"), _bridge(content, page, build))
    if page["since"]:
        since = page["since"]
        title = _("Since report %(n)s of %(on)s") % {"n": since["number"], "on": build.day(since["issued_on"])}
        yield _section(title, [*_since(since, build), *_moved(page, build)])
    yield _section(_("Decisions taken"), [_told(row, build) for row in page["taken"]])
    yield _section(_("Saved against the original quotes"), list(_savings(page["savings"], build)))
    yield _section(_("Contingency and what it has to cover"), list(money_words.reserve(page["reserve"], build)))
    yield _section(_("Funds against what is still to be paid"), list(money_words.funds(page["funds"], build)))
    yield _section(_("The next eight weeks"), list(money_words.weeks(page["weeks"], build)))
    yield _section(_("The largest differences"), list(_largest(page, build)))
    yield _section(_("By trade"), [_trades(page, build), *_counted(page["total"])])


def _bridge(content: owners.Content, page: Mapping[str, Any], build: Build) -> list[Part]:
    steps = owners.bridge_steps(content)
    (first, budget, _same), *causes, (last, final, _likely) = steps
    rows = [[_cell(first), _cell(""), build.cell(budget)]]
    rows += [[_cell(label), build.signed(amount), build.cell(running)] for label, amount, running in causes]
    caption, head = _("From the first budget to the likely final"), [_("Step"), _("Moved"), _("Stands at")]
    told = "; ".join(f"{label} {display.money(amount, build, brief=True, sign=True)}" for label, amount, _run in causes)
    picture = {"kind": "picture", "svg": bridge.drawing(steps, project=build), "alt": f"{caption}. {told}"}
    table = _table(caption, head, rows, [_cell(last), build.signed(final - budget), build.cell(final)])
    return [*_reason(page, build), picture, table]


def _reason(page: Mapping[str, Any], build: Build) -> list[Part]:
    if not page["reason"]:
        return []
    amount = display.money(page["reason"]["amount"], build, brief=True, sign=True)
    return [_text(_("What did most: %(cause)s, %(amount)s.") % {"cause": page["reason"]["label"], "amount": amount})]


def _told(row: Mapping[str, Any], build: Build) -> Part:
    """A decision: what was chosen, both yardsticks, why, what was turned down, and who said so."""
    original = row["against_original_minor"]
    first = _cell(_("no original quote")) if original is None else build.against(original, "original")
    notes = [_said("_next", row=row, holder=build)] if row["rejected"] else []
    return {
        "kind": "told",
        "code": row["code"],
        "title": row["title"],
        "chosen": _("%(name)s at %(price)s") % {"name": row["option"], "price": build.brief(row["price_minor"])},
        "yardsticks": [first, build.against(row["over_minor"], "budget")],
        "reason": row["reason"],
        "overruled": [
            _("Does not pass “%(check)s”; overruled: %(reason)s") % {"check": check["check"], "reason": check["reason"]}
            for check in row["overruled"]
        ],
        "note": " ".join([*notes, _who(row, build)]),
    }


def _who(row: Mapping[str, Any], build: Build) -> str:
    if not row.get("taken_on"):
        return _("Put to you by %(who)s on %(on)s.") % {"who": row["by"], "on": build.day(row["decided_on"])}
    words = _("Approved by %(who)s on %(on)s.") if row["approved_by"] else _("Taken by %(who)s on %(on)s.")
    return words % {"who": row["approved_by"] or row["by"], "on": build.day(row["taken_on"])}


def _since(since: Mapping[str, Any], build: Build) -> Iterator[Part]:
    then, now = build.brief(since["then"]), build.brief(since["now"])
    if since["moved"]:
        moved = display.money(since["moved"], build, brief=True, sign=True)
        words = _("The likely final went from %(then)s to %(now)s: %(moved)s.")
        yield _text(words % {"then": then, "now": now, "moved": moved})
    else:
        yield _text(_("The likely final is still %s.") % now)
    rows = [row for step in since["steps"] for row in _step(step, build)]
    if rows:
        yield _table(_("What moved it, cause by cause"), [_("Cause and line"), _("Date"), _("Moved")], rows)


def _moved(page: Mapping[str, Any], build: Build) -> Iterator[Part]:
    """How the expected opening moved; reports that were issued before openings were told say nothing of it."""
    if page["since"].get("opening"):
        yield _text(_said("_moved", page=page, holder=build))


def _step(step: Mapping[str, Any], build: Build) -> Iterator[list[Part]]:
    yield [_cell(step["label"]) | {"strong": True}, _cell(""), build.signed(step["amount"]) | {"strong": True}]
    for entry in step["entries"]:
        words = f"{entry['line']}: {entry['note']}" if entry["note"] else entry["line"]
        yield [_cell(words), _cell(display.day(entry["on"], build.locale, short=True)), build.signed(entry["amount"])]
    if step["more"]:
        words = ngettext("%d smaller one", "%d smaller ones together", step["more"]) % step["more"]
        yield [_cell(words), _cell(""), build.signed(step["more_minor"])]


def _come_true(book: Mapping[str, Any], build: Build) -> str:
    if "net_minor" not in book:
        return _("as promised when they were taken")
    return _("promised; %s of it has come true") % build.brief(book["realised_minor"])


def _savings(book: Mapping[str, Any], build: Build) -> Iterator[Part]:
    """What was promised, what of it has come true, and what ate into it."""
    if "net_minor" not in book:
        yield from _saved_then(book, build)
        return
    rows = [_saved_row(part["label"], part, build) for part in book["counted"]]
    whole = {"amount_minor": book["counted_minor"], "realised_minor": book["realised_minor"]}
    rows.append([cell | {"strong": True} for cell in _saved_row(_("Saved"), whole, build)])
    rows += [_saved_row(_("beside it: %s") % part["label"], part, build) for part in book["kept"]]
    rows += [_saved_row(_("eaten by: %s") % part["label"], part, build) for part in book["eaten"]]
    net = [_cell(_("What is left of it all")), build.cell(book["net_minor"]), _cell("")]
    rows.append([cell | {"strong": True} for cell in net])
    if len(rows) > 2 or book["beside"]:
        yield _table(_("Saved against the original quotes"), [_("By"), _("Promised"), _("Come true")], rows)
        for part in book["beside"]:
            yield _text(
                _("Never counted: %s") % f"{part['label']} {build.cell(part['amount_minor'])['text']}", soft=True
            )
        yield _text(_("A saving comes true as its lines are invoiced; it is yours when they are closed."), soft=True)


def _saved_row(label: str, part: Mapping[str, Any], build: Build) -> list[Part]:
    return [_cell(label), build.cell(part["amount_minor"]), build.cell(part["realised_minor"])]


def _saved_then(book: Mapping[str, Any], build: Build) -> Iterator[Part]:
    """The savings of a report that was issued before the book told what had come true."""
    rows = [[_cell(part["label"]), build.cell(part["amount_minor"])] for part in book["counted"]]
    rows.append(
        [
            _cell(_("Saved against the original quotes")) | {"strong": True},
            build.cell(book["counted_minor"]) | {"strong": True},
        ]
    )
    rows += [[_cell(_("not counted: %s") % part["label"]), build.cell(part["amount_minor"])] for part in book["beside"]]
    if book["counted"] or book["beside"]:
        yield _table(_("Saved by decisions, by kind"), [_("Kind"), _("Saved")], rows)
        yield _text(_("These are promised. A saving is yours when its lines are paid and closed."), soft=True)


def _largest(page: Mapping[str, Any], build: Build) -> Iterator[Part]:
    if page["over"]:
        head = [_("Furthest over their budget"), _("Budget"), _("Likely final"), _("Over budget")]
        yield _table(head[0], head, [_line(row, "budget_minor", "over", build) for row in page["over"]])
    if page["saved_lines"]:
        head = [_("Furthest under their original quote"), _("Original quote"), _("Likely final"), _("Saved")]
        yield _table(head[0], head, [_line(row, "original_minor", "extra", build) for row in page["saved_lines"]])


def _line(row: Mapping[str, Any], first: str, gap: str, build: Build) -> list[Part]:
    name = _cell(f"{row['code']} {row['description']}")
    return [name, build.cell(row[first]), build.cell(row["likely_minor"]), build.signed(row[gap])]


def _trades(page: Mapping[str, Any], build: Build) -> Part:
    head = [
        _("Trade"),
        _("First budget"),
        _("Likely final"),
        _("Over or under budget"),
        _("Against the original quotes"),
    ]
    total = {**page["total"], "name": _("All trades")}
    rows = [_trade(row, build) for row in page["trades"]]
    return _table(_("Every trade with its likely final and both yardsticks"), head, rows, _trade(total, build))


def _counted(total: Mapping[str, Any]) -> list[Part]:
    """What the last column of the trades counts, so that nobody holds it against the savings of decisions."""
    lines = _("The last column counts the %(some)s of %(all)s lines with an original quote, whatever moved them.")
    decided = _("“Saved” above counts what the savings book holds.")
    counts = {"some": total["with_original"], "all": total["lines"]}
    return [_text(f"{lines % counts} {decided}", soft=True)] if total["with_original"] else []


def _trade(row: Mapping[str, Any], build: Build) -> list[Part]:
    against = row["against_original"] if row["with_original"] else None
    return [
        _cell(row["name"]), build.cell(row["budget"]), build.cell(row["likely"]), build.signed(row["over_budget"]),
        build.signed(against),
    ]  # fmt: skip


def _facts(project: Mapping[str, Any], build: Build, *, is_planned: bool) -> Iterator[str]:
    """The day it is to open, and what a later day costs: facts of the build, not a forecast."""
    if project["opens_on"]:
        words = _("target for the opening: %s") if is_planned else _("opening, as planned: %s")
        yield words % build.day(date.fromisoformat(project["opens_on"]))
    if project["cost_of_day_minor"]:
        yield _("a day of later opening costs %s") % build.brief(project["cost_of_day_minor"])
