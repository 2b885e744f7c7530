"""Documents of earlier versions, brought to the shape of this one before they are read.

A version names what it added: tables, which an older document has no rows for, and columns, which are filled with what they
stand at where nobody has said anything. Nothing that was there before is ever filled in: an old document that lacks it is
damaged, as one of this version would be.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.db import models

from reports.exchange import dumping

#: The row of the project itself, which is no table of the document.
PROJECT = "projects.project"


@dataclass(frozen=True, slots=True)
class Added:
    """What a version has that the one before did not have: tables, and {table: columns}."""

    tables: tuple[str, ...]
    columns: Mapping[str, tuple[str, ...]]


#: Version -> what it added. The first one added nothing.
SINCE = {
    2: Added(
        tables=(
            "budget.arrival", "budget.change", "budget.changeattachment", "budget.changestep", "budget.fundingreceipt",
            "budget.fundingsource", "budget.invoice", "budget.invoiceattachment", "budget.invoiceline", "budget.invoicestep",
            "budget.payment", "budget.paymentstage", "budget.progress", "budget.retentionrelease", "budget.retentionstage",
            "budget.risk", "budget.sheetrow", "budget.transfer", "budget.vendorbank", "budget.vendorbankconfirmation",
            "decisions.bookentry",
        ),
        columns={
            PROJECT: ("rate_swing_percent", "tax_percent", "tax_recovered"),
            "projects.exchangerate": ("purpose",),
            "budget.lineitem": ("changes_minor", "currency_minor", "invoiced_minor", "moved_minor", "retention_minor"),
        },
    ),
    3: Added(
        tables=(
            "schedule.activity", "schedule.baseline", "schedule.baselinedate", "schedule.closure", "schedule.delivery",
            "schedule.deliverystage", "schedule.holdcheck", "schedule.holdpoint", "schedule.holdsigner", "schedule.holdstop",
            "schedule.link", "schedule.need", "schedule.overrule", "schedule.plan", "schedule.promise", "schedule.promiseweek",
            "schedule.proof", "schedule.prooffile", "schedule.question", "schedule.signature", "schedule.workcalendar",
            "decisions.activityline", "decisions.decisionactivity", "decisions.optionplan", "decisions.recordplan",
        ),
        columns={},
    ),
}  # fmt: skip


def can_be_read(version: Any) -> bool:
    """Tell whether a document of a version can be read here."""
    return isinstance(version, int) and not isinstance(version, bool) and 1 <= version <= dumping.VERSION


def brought_up(content: dict[str, Any]) -> dict[str, Any]:
    """Fill in what later versions have added to a document; one of this version is left alone.

    Args:
        content: a document whose version can be read; its parts may still be of any shape.
    Returns: the same document, changed in place; what is of no use is left to be refused with its place.
    """
    for version in range(content["version"] + 1, dumping.VERSION + 1):
        _fill(content, SINCE[version])
    return content


def _fill(content: dict[str, Any], added: Added) -> None:
    tables = content.get("tables")
    if not isinstance(tables, dict):
        return
    for name in added.tables:
        tables.setdefault(name, [])
    for name, columns in added.columns.items():
        rows = [content.get("project")] if name == PROJECT else tables.get(name)
        values = _at_first(apps.get_model(name), columns)
        for row in rows if isinstance(rows, list) else ():
            if isinstance(row, dict):
                row |= values | row


def _at_first(model: type[models.Model], columns: tuple[str, ...]) -> dict[str, Any]:
    """What columns stand at before anybody says anything, as a document has it."""
    fields = {field.name: field for field in model._meta.concrete_fields}
    return {name: dumping.plain(fields[name].get_default()) for name in columns}
