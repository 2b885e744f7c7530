"""Numbers of rows that stand in texts and plain columns instead of a foreign key, and what they number.

They have to follow when a project moves to a database in which its rows get other numbers.
"""

from collections.abc import Callable
from typing import Any

#: The word that a trail entry or a movement names a table by -> the table.
NAMED = {
    "project": "projects.project",
    "cost of a day": "projects.project",
    "limits": "projects.project",
    "member": "projects.membership",
    "invitation": "projects.invitation",
    "rate": "projects.exchangerate",
    "file": "projects.attachment",
    "trade": "budget.trade",
    "line": "budget.lineitem",
    "vendor": "budget.vendor",
    "quote": "budget.quote",
    "import": "budget.importbatch",
    "agreement": "budget.agreement",
    "change": "budget.change",
    "invoice": "budget.invoice",
    "payment": "budget.payment",
    "release": "budget.retentionrelease",
    "arrival": "budget.arrival",
    "progress": "budget.progress",
    "bank": "budget.vendorbank",
    "transfer": "budget.transfer",
    "risk": "budget.risk",
    "funding": "budget.fundingsource",
    "receipt": "budget.fundingreceipt",
    "estimate": "budget.estimate",
    "own forecast": "budget.ownforecast",
    "activity": "schedule.activity",
    "calendar": "schedule.workcalendar",
    "baseline": "schedule.baseline",
    "question": "schedule.question",
    "hold point": "schedule.holdpoint",
    "delivery": "schedule.delivery",
    "need": "schedule.need",
    "promise": "schedule.promise",
    "decision": "decisions.decision",
    "option": "decisions.option",
    "record": "decisions.record",
    "saving": "decisions.bookentry",
    "report": "reports.issuedreport",
    "owners link": "reports.ownerslink",
}
#: Gives the new number of a row: (table, old number) -> number, or None where the row is not there.
Renumber = Callable[[str, int], int | None]


def renumbered_columns(table: str, row: dict[str, Any], renumber: Renumber) -> dict[str, Any]:
    """Write the loose references of one row anew; the other columns stay as they are."""
    if table == "projects.trailentry":
        return row | {
            "subject_id": _loose(row["subject"], row["subject_id"], renumber),
            "details": {
                key: _loose(key, value, renumber) if key in NAMED else value for key, value in row["details"].items()
            },
        }
    if table == "budget.movement":
        return row | {"source_id": _loose(row["source"], row["source_id"], renumber)}
    return row


def _loose(word: str, number: Any, renumber: Renumber) -> Any:
    return (
        renumber(NAMED[word], number)
        if word in NAMED and isinstance(number, int) and not isinstance(number, bool)
        else number
    )
