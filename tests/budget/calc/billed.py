"""The invoices of the demo's story as facts to judge, put together from the story itself and not through the database."""

import json
from datetime import date
from decimal import Decimal
from pathlib import Path

from budget.calc import claims, verdicts
from budget.calc.verdicts import ChangeSeen, InvoiceFacts, InvoiceLineFacts

STORY = json.loads((Path(__file__).resolve().parents[3] / "reports/demo/skerrywick.json").read_text("utf-8"))
LINES = {line["code"]: line for line in STORY["lines"]}
CHANGES = {change["id"]: change for change in STORY["changes"]}
#: Words of the story for the states of a change.
STATES = {"approved": "agreed", "pending": "proposed"}
#: Retention that a vendor agreed to and left out; the story tells it in words only.
FORGOTTEN = {"I35": 5}


def pence(amount):
    return int((Decimal(str(amount)) * 100).to_integral_exact())


def judged():
    """{invoice: its judgement}, each as it stood at the end of the story, after the ones before it."""
    rows = sorted(STORY["invoices"], key=lambda row: (row["date"], row["id"]))
    return {row["id"]: verdicts.judge(_facts(row, rows[:place])) for place, row in enumerate(rows)}


def _facts(row, earlier):
    net, held = pence(row["net_as_given"]), pence(row["retention_in_base"])
    same = [one for one in map(_numbered, earlier) if verdicts.number_key(one.number) == _key(row)]
    alike = [found for one in earlier if (found := verdicts.resemblance(_numbered(one), _numbered(row)))]
    return InvoiceFacts(
        "credit" if net < 0 else "invoice",
        row["currency"],
        LINES[row["line"]]["agreed_currency"],
        row["number"],
        row["vendor"],
        date.fromisoformat(row["date"]),
        (_line(row, [one for one in earlier if one["line"] == row["line"] and one["state"] != "query"]),),
        tax_minor=pence(row["vat_on_invoice"]),
        tax_expected_minor=pence(row["vat_expected"]),
        retention_minor=held,
        retention_expected_minor=verdicts.round_minor(Decimal(net * FORGOTTEN[row["id"]]) / 100)
        if row["id"] in FORGOTTEN
        else held,
        same_number=same[0].number if same else None,
        look_alikes=tuple(alike),
    )


def _key(row):
    return verdicts.number_key(row["number"])


def _numbered(row):
    day = date.fromisoformat(row["date"])
    return verdicts.Numbered(row["vendor"], row["number"], row["line"], pence(row["net_as_given"]), day)


def _line(row, before):
    line, net = LINES[row["line"]], pence(row["net_as_given"])
    billed, agreed = sum(pence(one["net_as_given"]) for one in before), pence(line["agreed_in_currency"])
    changes = pence(line["approved_changes"])
    return InvoiceLineFacts(
        row["line"],
        net,
        agreed,
        changes_agreed_minor=changes,
        invoiced_before_minor=billed,
        change=_change(row["change"], before),
        claimed_percent=claims.claimed_percent(billed + net, agreed, changes),
        seen_percent=Decimal(line["progress"]["seen_percent"]) if line["progress"] else None,
    )


def _change(code, before):
    if code is None:
        return None
    change = CHANGES[code]
    billed = sum(pence(one["net_as_given"]) for one in before if one["change"] == code)
    return ChangeSeen(code, STATES[change["status"]], pence(change["amount"]), billed)
