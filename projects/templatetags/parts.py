"""The pieces that pages are put together from: {% load parts %}. Every one is shown on the gallery page.

A piece that is only markup has no tag: the gallery shows its classes. A piece has a tag where it must choose words,
tie a label to its field, or never forget what a reader without eyes or colours needs.
"""

from typing import Any

from django import forms, template
from django.contrib.messages.storage.base import Message
from django.forms import BoundField
from django.urls import get_script_prefix
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from projects import display, said
from projects.templatetags.show import NOTHING, priced

register = template.Library()
MARKS = {"over": "\u25b2", "saved": "\u25bc"}


@register.simple_tag
def mark(minor: int) -> SafeString:
    """▲ for over, ▼ for saved, nothing for level; hidden from screen readers, who hear the words."""
    sign = MARKS.get(display.sense(minor))
    return format_html('<span class="mark" aria-hidden="true">{}</span>', sign) if sign else SafeString("")


@register.simple_tag
def cell(minor: int | None, holder: Any) -> SafeString:
    """A table cell with an amount."""
    text = NOTHING if minor is None else display.money(minor, priced(holder))
    return format_html('<td class="money">{}</td>', text)


@register.simple_tag
def signed_cell(minor: int | None, holder: Any) -> SafeString:
    """A table cell with a difference: coloured, signed and marked, so that colour is never alone."""
    if minor is None:
        return format_html('<td class="money">{}</td>', NOTHING)
    text = display.money(minor, priced(holder), sign=True)
    return format_html('<td class="money {}">{}{}</td>', display.sense(minor), mark(minor), text)


@register.simple_tag
def difference(minor: int, holder: Any, yardstick: str) -> SafeString:
    """A difference in words: ▲ £1,900 over budget. Yardsticks: budget, first_budget, original, originals."""
    words = display.difference(minor, priced(holder), yardstick)
    return format_html('<span class="difference {}">{}{}</span>', display.sense(minor), mark(minor), words)


@register.inclusion_tag("_components/figure.html")
def figure(
    label: str,
    amount: int | None,
    holder: Any,
    difference: int | None = None,
    yardstick: str = "budget",
    note: str = "",
) -> dict[str, object]:
    """A large amount, its label, and how it stands against a named yardstick."""
    text = NOTHING if amount is None else display.money(amount, priced(holder), brief=True)
    size = " figure__amount--longer" if len(text) > 13 else " figure__amount--long" if len(text) > 10 else ""
    named = {"label": label, "text": text, "size": size, "note": note, "holder": holder, "yardstick": yardstick}
    return named | {"gap": difference, "has_difference": difference is not None}


def _kind(widget: forms.Widget) -> str:
    if isinstance(widget, forms.RadioSelect | forms.CheckboxSelectMultiple):
        return "chips"
    if isinstance(widget, forms.CheckboxInput):
        return "tick"
    return "file" if isinstance(widget, forms.FileInput) else "plain"


@register.inclusion_tag("_components/field.html")
def field(
    bound: BoundField, prefix: str = "", suffix: str = "", theirs: Any = None, width: str = "", label: str = ""
) -> dict[str, object]:
    """One form field with its label, help and fault.

    Args:
        bound: the field of the form.
        prefix, suffix: words before and after the entry: a currency, "days".
        theirs: what somebody else has saved meanwhile, shown beside.
        width: "short", "mid" or "" for the whole column.
        label: words in place of the form's own label.
    """
    return {
        "field": bound,
        "kind": _kind(bound.field.widget),
        "prefix": prefix,
        "suffix": suffix,
        "theirs": theirs,
        "width": width,
        "label": label or bound.label,
    }


@register.inclusion_tag("_components/faults.html")
def faults(form: forms.BaseForm) -> dict[str, object]:
    """What is wrong with a form, said once at its head, with a link to each field."""
    places = [bound for bound in form.visible_fields() if bound.errors]
    return {"form": form, "places": places}


@register.inclusion_tag("_components/chart.html")
def chart(figure: dict[str, Any] | None, name: str, label: str = "") -> dict[str, object]:
    """A picture and, behind it, the same figures as a table.

    Args:
        figure: from a chart builder: data, layout, and optionally narrow (for a phone) and table.
        name: an id that no other element of the page has.
        label: what the picture shows, for those who cannot see it.
    """
    table = (figure or {}).get("table")
    drawn = {key: value for key, value in (figure or {}).items() if key != "table"}
    return {"figure": drawn, "figure_id": f"{name}-figure", "name": name, "label": label, "table": table}


@register.inclusion_tag("_components/chart_scripts.html")
def chart_scripts() -> dict[str, object]:
    """What a page with a picture loads; goes into the block `scripts`."""
    return {}


@register.simple_block_tag
def notice(content: str, kind: str = "info", title: str = "") -> SafeString:
    """A notice: kind info, wait (needs a person) or over (something is wrong)."""
    role = "alert" if kind == "over" else "note"
    head = format_html('<p class="notice__title">{}</p>', title) if title else ""
    return format_html('<div class="notice notice--{}" role="{}">{}{}</div>', kind, role, head, content)


@register.simple_block_tag
def empty(content: str, title: str = "") -> SafeString:
    """What a page says while there is nothing to show: what belongs here, and the next step."""
    return format_html('<div class="empty"><p class="empty__title">{}</p>{}</div>', title, content)


@register.simple_block_tag
def scroll(content: str, caption: str = "", shown: bool = True, wide: bool = False) -> SafeString:
    """A table that scrolls inside itself under its own heading; the content is thead, tbody, tfoot.

    Args:
        caption: what the table holds; hidden from the eye when `shown` is false, never left out.
        wide: keep the first column in sight while the rest scrolls sideways.
    """
    return format_html(
        '<div class="scroll{}" tabindex="0" role="region" aria-label="{}"><table class="table">'
        "<caption{}>{}</caption>{}</table></div>",
        " scroll--wide" if wide else "",
        caption,
        "" if shown else SafeString(' class="unseen"'),
        caption,
        content,
    )


@register.simple_tag
def undo_of(message: Message) -> str:
    """The address that takes back what a message reports, or ""."""
    return said.undo_of(message)


#: The pages of a build, in the order of the rail: path below the project, name.
def pages() -> tuple[tuple[str, str], ...]:
    return (
        ("", _("Today")),
        ("money/", _("Money")),
        ("choices/", _("Choices")),
        ("sequence/", _("Sequence")),
        ("owners/", _("Owners")),
    )


def project_pages() -> tuple[tuple[str, str], ...]:
    return (
        ("project/people/", _("People")),
        ("project/rates/", _("Exchange rates")),
        ("project/exchange/", _("Import and export")),
        ("project/trail/", _("Trail")),
        ("project/", _("Settings")),
    )


def money_pages() -> tuple[tuple[str, str], ...]:
    return (
        ("money/", _("Lines")),
        ("money/changes/", _("Changes")),
        ("money/invoices/", _("Invoices")),
        ("money/cash/", _("Cash")),
        ("money/reserve/", _("Contingency")),
        ("money/savings/", _("Savings")),
    )


def sequence_pages() -> tuple[tuple[str, str], ...]:
    return (
        ("sequence/", _("Plan")),
        ("sequence/ahead/", _("Look-ahead")),
        ("sequence/what-if/", _("What if")),
        ("sequence/holds/", _("Hold points")),
        ("sequence/deliveries/", _("Deliveries")),
        ("sequence/plan/calendars/", _("Calendars")),
    )


def _entries(slug: str, path: str, entries: tuple[tuple[str, str], ...]) -> list[dict[str, object]]:
    """Links below a project; the longest one that the path begins with is the current one."""
    root = f"{get_script_prefix()}p/{slug}/"
    hrefs = [root + below for below, _name in entries]
    here = max(
        (href for href in hrefs if path.startswith(href) and (href != root or path == root)), key=len, default=""
    )
    return [
        {"href": href, "name": name, "here": href == here} for href, (_below, name) in zip(hrefs, entries, strict=True)
    ]


@register.simple_tag(takes_context=True)
def rail(context: template.Context) -> list[dict[str, object]]:
    """The pages of the open project."""
    return _entries(context["door"].project.slug, _path(context), pages())


@register.simple_tag(takes_context=True)
def rail_of_project(context: template.Context) -> list[dict[str, object]]:
    """The pages about the project itself."""
    return _entries(context["door"].project.slug, _path(context), project_pages())


@register.simple_tag(takes_context=True)
def rail_of_money(context: template.Context) -> list[dict[str, object]]:
    """The pages of Money."""
    return _entries(context["door"].project.slug, _path(context), money_pages())


@register.simple_tag(takes_context=True)
def rail_of_sequence(context: template.Context) -> list[dict[str, object]]:
    """The pages of Sequence."""
    return _entries(context["door"].project.slug, _path(context), sequence_pages())


def _path(context: template.Context) -> str:
    request = context.get("request")
    return request.path if request else ""
