"""Read the invented scenario and turn its words into ours.

The scenario states its own conventions in `about`; two differ from ours and are converted here, not bent to:
it takes the mean of the two middle quotes where their number is even, and it prices contingency beside the lines.
"""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

from budget.models import Quote, QuoteExtra, QuoteItem
from budget.services.quotes import ExtraDraft, QuotedLine, QuoteDraft, ScopeDraft

FILE = Path(__file__).with_name("skerrywick.json")

EXTRA_KINDS = {
    "freight": QuoteExtra.Kind.FREIGHT,
    "duty": QuoteExtra.Kind.DUTY,
    "customs": QuoteExtra.Kind.CUSTOMS,
    "attendance": QuoteExtra.Kind.ATTENDANCE,
    "missing scope": QuoteExtra.Kind.MISSING,
    "unclear, plugged until confirmed": QuoteExtra.Kind.MISSING,
    "credit on another line": QuoteExtra.Kind.CREDIT,
}
STANDINGS = {
    "in": QuoteItem.Standing.INCLUDED,
    "out": QuoteItem.Standing.OUT,
    "unclear": QuoteItem.Standing.UNCLEAR,
}


def read() -> dict[str, Any]:
    """Read the scenario file; amounts come as exact decimals."""
    return json.loads(FILE.read_text(encoding="utf-8"), parse_float=Decimal)


def minor(amount: Any) -> int:
    """Turn an amount of the scenario into minor units; every currency in it has two digits."""
    exact = Decimal(str(amount)) * 100
    whole = int(exact)
    if exact != whole:
        raise ValueError(f"{amount} is not a whole number of cents")
    return whole


def day(text: str) -> date:
    return date.fromisoformat(text)


@dataclass(frozen=True, slots=True)
class ScenarioQuote:
    """A quote of the scenario with the line code it prices."""

    id: str
    line: str
    row: Mapping[str, Any]

    @property
    def quoted_on(self) -> date:
        return day(self.row["date"])

    def draft(self, line_id: int) -> QuoteDraft:
        """Put the quote in our words."""
        row = self.row
        inside = Decimal(20) if row["tax_basis"].startswith("includes VAT") else None
        return QuoteDraft(
            vendor=row["vendor"],
            currency=row["currency"],
            rate=Decimal(str(row["rate_used_for_levelling"])),
            quoted_on=self.quoted_on,
            valid_until=day(row["valid_until"]),
            lead_days=None if row["lead_weeks"] is None else int(row["lead_weeks"]) * 7,
            basis=Quote.Basis.FIRM,
            reference=self.id,
            tax_inside_percent=inside,
            deposit_percent=Decimal(str(row["deposit_percent"])) if row["deposit_percent"] else None,
            payment_terms=row["payment_terms"],
            delivery_terms=row["delivery_basis"],
            method=row["method"],
            note=row["note"],
            lines=(QuotedLine(line_id, minor(row["amount_as_given"]), self._scope(), self._extras()),),
        )

    def _scope(self) -> tuple[ScopeDraft, ...]:
        stated = self.row["scope_status"] or {}
        return tuple(ScopeDraft(name, STANDINGS[standing]) for name, standing in stated.items())

    def _extras(self) -> tuple[ExtraDraft, ...]:
        listed = self.row["scope_status"] or {}
        return tuple(
            ExtraDraft(EXTRA_KINDS[entry["kind"]], entry["reason"], minor(entry["amount"]))
            for entry in self.row["adjustments"]
            if entry["reason"] not in listed
        )


def quotes(scenario: Mapping[str, Any]) -> list[ScenarioQuote]:
    """The quotes in the order of their dates."""
    rows = [ScenarioQuote(row["id"], row["line"], row) for row in scenario["quotes"]]
    return sorted(rows, key=lambda quote: (quote.quoted_on, quote.id))


def favoured_vendor(line: Mapping[str, Any]) -> str | None:
    """The vendor whose quote the scenario favours for a line, if it says so."""
    rule = line["forecast_rule"]
    return rule.split("(", 1)[1].rstrip(")") if rule.startswith("levelled total of the favoured") else None


def agreed_without_decision(scenario: Mapping[str, Any]) -> Iterable[tuple[Mapping[str, Any], Mapping[str, Any]]]:
    """Pairs of (line, accepted quote) where the line was let on its own, not by a decision."""
    by_decision = {row["line"] for row in scenario["decisions"] if row["status"] == "decided"}
    accepted = {row["line"]: row for row in scenario["quotes"] if row["state"] == "accepted"}
    for line in scenario["lines"]:
        if line["code"] in accepted and line["code"] not in by_decision:
            yield line, accepted[line["code"]]
