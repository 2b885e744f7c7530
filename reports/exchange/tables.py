"""Every table of a project, as people put it into a spreadsheet: names instead of numbers, amounts as decimals.

The columns follow from the models, so a new column or table is exported without anybody remembering it. What stays
out is named here, with the reason.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from django.db import models
from django.http import Http404

from projects.fields import ExactField
from projects.models import Project, User
from reports.exchange import belonging, dumping
from units import money

#: Tables that are not exported, and why; the rest of a project is.
LEFT_OUT = {
    "reports.ownerslink": "open doors, not facts of the build; its secret is nobody's to have",
    "projects.invitation": "open doors, not facts of the build; its secret is nobody's to have",
}
#: Columns that are not exported, and why.
COLUMNS_LEFT_OUT = {
    "budget.importbatch": {
        "content": "the cells of the sheet that was brought in; the document of the whole project has them"
    },
    "budget.vendor": {"key": "the name once more, written for comparing"},
    "budget.invoice": {
        "number_key": "the number once more, written for comparing",
        "bank_print": "a fingerprint that nobody can read; its last letters stand beside it",
    },
    "budget.vendorbank": {"bank_print": "a fingerprint that nobody can read; its last letters stand beside it"},
}
#: A row that another one points to is called by these columns: {what is added to the heading: where it is found}.
CALLED: dict[str, dict[str, str]] = {
    "projects.project": {"": "slug"},
    "projects.attachment": {"": "name"},
    "budget.trade": {"": "code"},
    "budget.vendor": {"": "name"},
    "budget.lineitem": {"": "code"},
    "budget.scopeitem": {"": "name"},
    "budget.importbatch": {"": "file_name"},
    "budget.quote": {"vendor": "vendor__name", "date": "quoted_on", "reference": "reference"},
    "budget.agreement": {"vendor": "vendor__name", "date": "agreed_on", "reference": "quote__reference"},
    "budget.agreementline": {"vendor": "agreement__vendor__name", "line": "line__code"},
    "budget.agreementgap": {"": "name"},
    "budget.knockon": {"line": "line__code", "": "reason"},
    "budget.estimate": {"line": "line__code", "date": "estimated_on"},
    "budget.change": {"": "code"},
    "budget.invoice": {"vendor": "vendor__name", "": "number"},
    "budget.vendorbank": {"vendor": "vendor__name", "": "bank_shown"},
    "budget.risk": {"": "code"},
    "budget.fundingsource": {"": "name"},
    "schedule.workcalendar": {"": "name"},
    "schedule.activity": {"": "code"},
    "schedule.baseline": {"": "name"},
    "schedule.delivery": {"": "item"},
    "schedule.holdpoint": {"": "code"},
    "schedule.holdcheck": {"": "hold__code", "text": "text"},
    "schedule.proof": {"": "hold_check__hold__code", "check": "hold_check__text"},
    "decisions.decision": {"": "code"},
    "decisions.option": {"decision": "decision__code", "": "key"},
    "decisions.mustpass": {"": "name"},
    "decisions.record": {"decision": "decision__code", "number": "number"},
}
#: Ties to an earlier row of the same table, which is found by its number there.
EARLIER = ("reverses", "follows")
#: Tables whose amounts are those of a quote as it was given; elsewhere they are billed, agreed or paid in its currency.
AS_QUOTED = ("budget.quote", "budget.quoteitem")
#: Columns whose own name would say something else in a heading.
HEADINGS = {
    "currency_minor": "moved by exchange rates",
    "moved_minor": "budget moved",
    "exchange_minor": "exchange difference",
}

#: An amount as an exact decimal, or any other plain value.
Cell = Any


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its heading, what kind of values it has, and how many decimals where they are amounts."""

    heading: str
    kind: str


@dataclass(frozen=True, slots=True)
class Table:
    """A table with its rows: `name` is for people and for files, in letters and hyphens."""

    name: str
    columns: tuple[Column, ...]
    rows: Sequence[tuple[Cell, ...]]


def names() -> list[str]:
    """The names of the tables, in the order they are written."""
    return [name_of(model) for model in exported()]


def exported() -> list[type[models.Model]]:
    return [Project, *(model for model in belonging.tables() if dumping.table_name(model) not in LEFT_OUT)]


def name_of(model: type[models.Model]) -> str:
    """
    >>> from budget.models import LineItem
    >>> name_of(LineItem)
    'line-items'
    """
    words = str(model._meta.verbose_name).lower().replace(" ", "-")
    for end, plural in (
        ("axis", "axes"),
        ("pass", "passes"),
        ("ch", "ches"),
        ("ry", "ries"),
        ("ty", "ties"),
        ("ss", "ss"),
    ):
        if words.endswith(end):
            return words.removesuffix(end) + plural
    return f"{words}s"


def table(project: Project, name: str) -> Table:
    """Read one table of a project. Raises: Http404. Queries: one, and one more for each many-to-many."""
    model = next((model for model in exported() if name_of(model) == name), None)
    if model is None:
        raise Http404
    return _table(project, model)


def every(project: Project) -> Iterator[Table]:
    """Read every table of a project, one after the other."""
    for model in exported():
        yield _table(project, model)


@dataclass(frozen=True, slots=True)
class _Source:
    """Where a column comes from: its path in the database, and how its values are written."""

    column: Column
    path: str
    write: Callable[[Any, str], Cell]
    currency: str = ""


def _table(project: Project, model: type[models.Model]) -> Table:
    sources = list(_sources(model))
    rows = belonging.rows(project, model) if model is not Project else Project.objects.filter(pk=project.pk)
    paths = ["pk", *(source.path for source in sources), *(source.currency for source in sources if source.currency)]
    read = rows.values_list(*dict.fromkeys(paths))
    where = {path: place for place, path in enumerate(dict.fromkeys(paths))}
    many = [(field, _links(model, field, project)) for field in model._meta.many_to_many if dumping.is_plain(field)]
    found = []
    for row in read:
        cells = [
            source.write(row[where[source.path]], row[where[source.currency]] if source.currency else project.currency)
            for source in sources
        ]
        found.append((row[0], *cells, *(", ".join(links.get(row[0], [])) for _field, links in many)))
    headings = (
        Column("id", "number"),
        *(source.column for source in sources),
        *(Column(f.name, "text") for f, _links in many),
    )
    return Table(name_of(model), headings, found)


def _sources(model: type[models.Model]) -> Iterator[_Source]:
    """The columns of a table in order; where amounts are in another currency, it is named before the first of them."""
    left_out = COLUMNS_LEFT_OUT.get(dumping.table_name(model), {})
    is_named = _has(model, "currency")
    for field in model._meta.concrete_fields:
        if field.primary_key or field.name in left_out or (field.related_model is Project and model is not Project):
            continue
        if field.name.endswith("_quoted_minor") and not is_named:
            is_named = True
            yield _Source(Column("currency", "text"), _currency_of(model), _as_it_is)
        if isinstance(field, models.ForeignKey):
            yield from _tied(field)
        else:
            yield _plain(model, field)


def _tied(field: models.ForeignKey) -> Iterator[_Source]:
    there = belonging.target(field)
    called = {"": "username"} if there is User else CALLED.get(dumping.table_name(there), {})
    if not called or field.name in EARLIER:
        yield _Source(Column(f"{_spaced(field.name)} id", "number"), field.attname, _as_it_is)
        return
    if there is field.model and "" in called:
        called = {"": called[""]}  # of the same table, such as the invoice that a credit note credits
    for word, path in called.items():
        heading = f"{_spaced(field.name)} {word}".rstrip()
        yield _Source(Column(heading, _kind(there, path)), f"{field.name}__{path}", _as_it_is)


def _kind(model: type[models.Model], path: str) -> str:
    """Which kind of values is found on a way from a table."""
    first, _step, rest = path.partition("__")
    field = model._meta.get_field(first)
    if rest:
        return _kind(belonging.target(field), rest)  # type: ignore[arg-type]
    if isinstance(field, models.DateField):
        return "date"
    return "number" if isinstance(field, models.IntegerField) else "text"


def _plain(model: type[models.Model], field: Any) -> _Source:
    name = field.name
    if name.endswith("_minor"):
        return _amounts(model, name)
    if name in WORDED:
        return _Source(Column(_spaced(name), "text"), name, WORDED[name])
    if isinstance(field, ExactField):
        return _Source(Column(_spaced(name), "exact"), name, _as_it_is)
    if isinstance(field, models.DateTimeField):
        return _Source(Column(_spaced(name), "instant"), name, _instant)
    if isinstance(field, models.DateField):
        return _Source(Column(_spaced(name), "date"), name, _as_it_is)
    if isinstance(field, models.JSONField):
        return _Source(Column(_spaced(name), "text"), name, _json)
    if isinstance(field, models.BooleanField):
        return _Source(Column(_spaced(name), "text"), name, _truth)
    kind = "number" if isinstance(field, models.IntegerField) else "text"
    return _Source(Column(_spaced(name), kind), name, _as_it_is)


def _amounts(model: type[models.Model], name: str) -> _Source:
    """A column of amounts, with the digits of their currency: the project's, or that of a quote or an invoice."""
    if not name.endswith("_quoted_minor"):
        return _Source(Column(HEADINGS.get(name, _spaced(name.removesuffix("_minor"))), "amount"), name, _amount)
    behind = "quoted" if dumping.table_name(model) in AS_QUOTED else "in currency"
    heading = f"{_spaced(name.removesuffix('_quoted_minor'))} {behind}"
    return _Source(Column(heading, "amount"), name, _amount, _currency_of(model))


def _has(model: type[models.Model], name: str) -> bool:
    return any(field.name == name for field in model._meta.concrete_fields)


def _currency_of(model: type[models.Model]) -> str:
    """The way from a row to the currency of its quote or invoice."""
    ways = {"currency": "currency", "invoice": "invoice__currency", "quote": "quote__currency"}
    return next((way for name, way in ways.items() if _has(model, name)), "agreement__quote__currency")


def _spaced(name: str) -> str:
    return name.replace("_", " ")


def _as_it_is(value: Any, _currency: str) -> Cell:
    return value


def _amount(minor: int | None, currency: str) -> Decimal | None:
    return None if minor is None else Decimal(money.as_text(minor, currency=currency))


def _instant(at: datetime | None, _currency: str) -> str | None:
    return None if at is None else at.astimezone(UTC).isoformat(timespec="seconds")


def _json(value: Any, _currency: str) -> str:
    import json

    return json.dumps(value, ensure_ascii=False, sort_keys=True) if value else ""


def _judged(value: Any, _currency: str) -> str:
    """A verdict with what did not fit: "query: wrong tax, duplicate"."""
    reasons = ", ".join(str(row["code"]) for row in value.get("reasons", ()))
    return ": ".join(filter(None, (str(value.get("verdict", "")), reasons)))


def _as_given(value: Any, _currency: str) -> str:
    """The cells of a sheet's row in their own words: "Paid: 12,000; Note: as agreed"."""
    return "; ".join(f"{heading}: {given}" for heading, given, *_read in value)


#: Columns that are put into words.
WORDED: dict[str, Callable[[Any, str], Cell]] = {"judgement": _judged, "cells": _as_given}


def _truth(value: bool, _currency: str) -> str:
    return "yes" if value else "no"


def _links(model: type[models.Model], field: models.ManyToManyField, project: Project) -> Mapping[int, list[str]]:
    there = belonging.target(field)  # type: ignore[arg-type]
    called = CALLED[dumping.table_name(there)][""]
    own, other = field.m2m_field_name(), field.m2m_reverse_field_name()
    way = f"{own}__{belonging.path_to_project(model)}"
    found: dict[int, list[str]] = {}
    links = field.remote_field.through._default_manager.filter(**{way: project})  # type: ignore[union-attr]
    for here, name in links.order_by("pk").values_list(f"{own}_id", f"{other}__{called}"):
        found.setdefault(here, []).append(str(name))
    return found
