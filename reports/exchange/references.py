"""Numbers of rows that stand in texts and plain columns instead of a foreign key, and what they number.

They have to follow when a project moves to a database in which its rows get other numbers.
"""

import json
from collections.abc import Callable, Mapping
from typing import Any

from decisions.calc import sealing

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
    "estimate": "budget.estimate",
    "own forecast": "budget.ownforecast",
    "decision": "decisions.decision",
    "option": "decisions.option",
    "record": "decisions.record",
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
    if table == "decisions.record":
        return row | _record(row, renumber)
    return row


def _loose(word: str, number: Any, renumber: Renumber) -> Any:
    return (
        renumber(NAMED[word], number)
        if word in NAMED and isinstance(number, int) and not isinstance(number, bool)
        else number
    )


def _record(row: Mapping[str, Any], renumber: Renumber) -> dict[str, Any]:
    """A record's frozen content numbers quotes and lines. It is sealed anew only where a number differs."""
    content = json.loads(row["frozen"])
    text = sealing.canonical(_content(content, renumber))
    return {} if text == row["frozen"] else {"frozen": text, "sha256": sealing.hash_of(text)}


def _content(content: dict[str, Any], renumber: Renumber) -> dict[str, Any]:
    def line(number: str) -> str:
        return str(renumber("budget.lineitem", int(number)) if number.isdigit() else number)

    def quote(number: Any) -> Any:
        return renumber("budget.quote", number) if isinstance(number, int) else number

    found = dict(content)
    if isinstance(content.get("own_forecasts"), dict):
        found["own_forecasts"] = {line(key): value for key, value in content["own_forecasts"].items()}
    if isinstance(content.get("choice"), dict):
        amounts = content["choice"].get("amounts", {})
        found["choice"] = {**content["choice"], "amounts": {line(key): value for key, value in amounts.items()}}
    if isinstance(content.get("prices"), dict):
        found["prices"] = {
            key: [[code, quote(number), *rest] for code, number, *rest in prices]
            for key, prices in content["prices"].items()
        }
    if isinstance(content.get("options"), list):
        found["options"] = [
            {**option, "items": [_item(item, quote) for item in option.get("items", [])]}
            for option in content["options"]
        ]
    return found


def _item(item: dict[str, Any], quote: Callable[[Any], Any]) -> dict[str, Any]:
    quoted = item.get("quote")
    return (
        {**item, "quote": {**quoted, "id": quote(quoted["id"])}}
        if isinstance(quoted, dict) and "id" in quoted
        else item
    )
