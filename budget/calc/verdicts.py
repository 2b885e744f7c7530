"""What to do with an invoice: pay it, pay part of it, or ask the vendor first.

An invoice is held against what was agreed with its vendor, the changes that were agreed since, what was billed before,
the tax and the retention that belong to it, the bank details that are known, and what was seen done. Each thing that
does not fit is a reason with the figures that a sentence about it needs. The worst reason decides (ADR 0109). Which
earlier invoices look like this one is told by `budget.calc.numbering`.

All amounts of one invoice are minor units of its own currency: what was agreed in another is brought to it first.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from budget.calc import claims
from budget.calc.numbering import LookAlike, Numbered, looks_alike, misread, number_key, resemblance
from units.money import round_minor

__all__ = [
    "CODES",
    "ChangeSeen",
    "InvoiceFacts",
    "InvoiceLineFacts",
    "Judgement",
    "LookAlike",
    "Numbered",
    "Reason",
    "Severity",
    "Verdict",
    "expected_tax",
    "judge",
    "looks_alike",
    "number_key",
    "resemblance",
]

Verdict = Literal["pay", "part", "query"]
Severity = Literal["query", "part", "note"]
#: A figure of a reason, as it goes into a record: whole minor units, a name, a percentage as text.
Figure = int | str | bool | None

DUPLICATE = "duplicate"
BANK_CHANGED = "bank changed"
ANOTHER_CURRENCY = "another currency"
NO_AGREEMENT = "no agreement"
CLOSED_LINE = "closed line"
OVER_AGREEMENT = "over the agreement"
NO_CHANGE = "no agreed change"
OVER_CHANGE = "over the change"
LOOSE_CREDIT = "credit without an invoice"
WRONG_TAX = "wrong tax"
NO_RETENTION = "retention not held"
AHEAD = "ahead of seen"
#: Every code a reason may bear, worst first.
CODES = (
    DUPLICATE, BANK_CHANGED, ANOTHER_CURRENCY, NO_AGREEMENT, CLOSED_LINE, OVER_AGREEMENT, NO_CHANGE, OVER_CHANGE,
    LOOSE_CREDIT, WRONG_TAX, NO_RETENTION, AHEAD,
)  # fmt: skip

CREDIT = "credit"
AGREED = "agreed"
#: Bank details that are not paid to before a second person has confirmed them.
UNSAFE_BANKS = ("changed", "unconfirmed")


@dataclass(frozen=True, slots=True)
class ChangeSeen:
    """The change that a line of an invoice names; only one with the status "agreed" may be billed."""

    code: str
    status: str
    amount_minor: int
    invoiced_before_minor: int = 0


@dataclass(frozen=True, slots=True)
class InvoiceLineFacts:
    """What an invoice bills on one line item, and what stands against it [minor units of the invoice's currency].

    `agreed_minor` is None where nothing was agreed with the vendor on the line; `invoiced_before_minor` is what other
    counted invoices bill on it; `claimed_percent` is what is billed of it with this invoice, `seen_percent` what was
    seen done of it, None where nobody looked.
    """

    line: str
    net_minor: int
    agreed_minor: int | None
    changes_agreed_minor: int = 0
    invoiced_before_minor: int = 0
    change: ChangeSeen | None = None
    claimed_percent: Decimal = Decimal(0)
    seen_percent: Decimal | None = None
    closed: bool = False

    @property
    def worth_minor(self) -> int:
        """What may be billed on the line in all: agreed amount and agreed changes [minor units]."""
        return (self.agreed_minor or 0) + self.changes_agreed_minor


@dataclass(frozen=True, slots=True)
class InvoiceFacts:
    """An invoice or credit note, and what is known beside it [minor units of its currency].

    `tax_expected_minor` is the tax on its net less the retention it states; None where no rate is known. With
    `tax_percent` [%] a part payment is taxed exactly, without it in the proportion of the tax stated. `look_alikes` are
    invoices that came before this one.
    """

    kind: str
    currency: str
    agreed_currency: str | None
    number: str
    vendor: str
    invoiced_on: date
    lines: tuple[InvoiceLineFacts, ...]
    tax_minor: int = 0
    tax_expected_minor: int | None = None
    retention_minor: int = 0
    retention_expected_minor: int = 0
    bank: str = "unstated"
    same_number: str | None = None
    look_alikes: tuple[LookAlike, ...] = ()
    tax_percent: Decimal | None = None

    @property
    def net_minor(self) -> int:
        """The net amount of all lines [minor units]."""
        return sum(line.net_minor for line in self.lines)

    @property
    def is_credit(self) -> bool:
        """Whether it gives money back."""
        return self.kind == CREDIT


@dataclass(frozen=True, slots=True)
class Reason:
    """One thing that does not fit, how much it weighs, and the figures a sentence about it needs.

    `by_minor` is how far off it is in all; where a line is over, `own_minor` is what of that this invoice brings.
    """

    code: str
    severity: Severity
    figures: dict[str, Figure] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Judgement:
    """What to do with an invoice, why, and how much of it may be paid now [minor units of its currency]."""

    verdict: Verdict
    reasons: tuple[Reason, ...]
    pay_minor: int


def expected_tax(net_minor: int, retention_minor: int, percent: Decimal) -> int:
    """Work out the tax an invoice should bear: on what falls to be paid now, not on what is held back.

    Args:
        net_minor: net amount [minor units], any sign.
        retention_minor: held back of it [minor units], of the same sign.
        percent: rate of tax [%], zero or above.
    Returns: [minor units], rounded half away from zero.
    Source: our rule, ADR 0109; local tax law decides.

    >>> expected_tax(1390000, 69500, Decimal(20))
    264100
    """
    return round_minor(Fraction(percent) * (net_minor - retention_minor) / 100)


def judge(facts: InvoiceFacts) -> Judgement:
    """Say whether to pay an invoice, to pay part of it, or to query it.

    Args:
        facts: the invoice and what stands against it.
    Returns: the verdict, its reasons in the order of `CODES`, and what may be paid now [minor units of the invoice's
        currency]: nothing of a queried one, at most what was seen done of a part, a credit note's below zero. A part
        of nothing is a query.
    Source: our rule, ADR 0109; what is asked is common practice, no source.

    >>> line = InvoiceLineFacts("Pumping", 26000, 520000, changes_agreed_minor=117000, invoiced_before_minor=637000)
    >>> found = judge(InvoiceFacts("invoice", "GBP", "GBP", "SP-0431", "Sluicewright", date(2026, 11, 20), (line,)))
    >>> found.verdict, [reason.code for reason in found.reasons], found.reasons[0].figures["by_minor"]
    ('query', ['over the agreement', 'no agreed change'], 26000)
    """
    reasons = tuple(sorted(_reasons(facts), key=lambda reason: CODES.index(reason.code)))
    found = {reason.severity for reason in reasons}
    if "query" in found:
        return Judgement("query", reasons, 0)
    if "part" not in found:
        return Judgement("pay", reasons, facts.net_minor - facts.retention_minor + facts.tax_minor)
    part = _part(facts)
    return Judgement("part" if part > 0 else "query", reasons, max(0, part))


def _reasons(facts: InvoiceFacts) -> Iterator[Reason]:
    yield from _of_the_paper(facts)
    yield from _of_the_tax(facts)
    if not facts.is_credit:
        yield from _of_the_retention(facts)
    for line in facts.lines:
        yield from _of_a_credit(facts, line) if line.net_minor < 0 else _of_a_line(facts, line)


def _of_the_paper(facts: InvoiceFacts) -> Iterator[Reason]:
    if facts.same_number is not None:
        figures: dict[str, Figure] = {"number": facts.number, "earlier": facts.same_number, "same_number": True}
        yield Reason(DUPLICATE, "query", figures)
    for other in facts.look_alikes:
        told: dict[str, Figure] = {"days_apart": other.days_apart, "same_amount": other.same_amount}
        yield Reason(
            DUPLICATE, "query", {"number": facts.number, "earlier": other.number, "same_number": False, **told}
        )
    if facts.bank in UNSAFE_BANKS and not facts.is_credit:
        yield Reason(BANK_CHANGED, "query", {"vendor": facts.vendor, "bank": facts.bank})
    if facts.agreed_currency not in (None, facts.currency):
        yield Reason(ANOTHER_CURRENCY, "query", {"currency": facts.currency, "agreed": facts.agreed_currency})


def _of_the_tax(facts: InvoiceFacts) -> Iterator[Reason]:
    expected = facts.tax_expected_minor
    if expected is None or abs(facts.tax_minor - expected) <= len(facts.lines):
        return
    yield Reason(
        WRONG_TAX,
        "query",
        {
            "tax_minor": facts.tax_minor,
            "expected_minor": expected,
            "by_minor": facts.tax_minor - expected,
            "swapped": misread(facts.tax_minor, expected),
        },
    )


def _of_the_retention(facts: InvoiceFacts) -> Iterator[Reason]:
    short = facts.retention_expected_minor - facts.retention_minor
    if short > 0:
        yield Reason(
            NO_RETENTION,
            "part",
            {"held_minor": facts.retention_minor, "expected_minor": facts.retention_expected_minor, "by_minor": short},
        )


def _of_a_credit(facts: InvoiceFacts, line: InvoiceLineFacts) -> Iterator[Reason]:
    """A credit has to take back something that was billed."""
    if facts.is_credit and -line.net_minor > line.invoiced_before_minor:
        yield Reason(LOOSE_CREDIT, "query", _told(line))


def _of_a_line(facts: InvoiceFacts, line: InvoiceLineFacts) -> Iterator[Reason]:
    if line.closed:
        yield Reason(CLOSED_LINE, "query", _told(line))
    yield from _of_the_change(line)
    if line.agreed_minor is None or facts.agreed_currency is None:
        yield Reason(NO_AGREEMENT, "query", _told(line))
        return
    over = line.net_minor + line.invoiced_before_minor - line.worth_minor
    if over > 0:
        beyond: dict[str, Figure] = {"by_minor": over, "own_minor": min(over, line.net_minor)}
        yield Reason(OVER_AGREEMENT, "query", {**_told(line), **beyond})
        if line.change is None:
            yield Reason(NO_CHANGE, "query", {**_told(line), **beyond, "change": None, "status": None})
    if _is_ahead(line):
        yield Reason(AHEAD, "part", {**_told(line), **_seen(line), "pay_net_minor": _done_of(line)})


def _of_the_change(line: InvoiceLineFacts) -> Iterator[Reason]:
    change = line.change
    if change is None:
        return
    named: dict[str, Figure] = {"change": change.code, "change_minor": change.amount_minor}
    over = line.net_minor + change.invoiced_before_minor - change.amount_minor
    if change.status != AGREED:
        yield Reason(NO_CHANGE, "query", {**_told(line), **named, "by_minor": line.net_minor, "status": change.status})
    elif over > 0:
        before: dict[str, Figure] = {"change_invoiced_minor": change.invoiced_before_minor, "by_minor": over}
        yield Reason(OVER_CHANGE, "query", {**_told(line), **named, **before})


def _told(line: InvoiceLineFacts) -> dict[str, Figure]:
    """What every sentence about a line may want."""
    return {
        "line": line.line,
        "net_minor": line.net_minor,
        "agreed_minor": line.agreed_minor,
        "changes_minor": line.changes_agreed_minor,
        "before_minor": line.invoiced_before_minor,
    }


def _seen(line: InvoiceLineFacts) -> dict[str, Figure]:
    return {"claimed_percent": str(line.claimed_percent), "seen_percent": str(line.seen_percent)}


def _is_ahead(line: InvoiceLineFacts) -> bool:
    return claims.ahead(line.claimed_percent, line.seen_percent)


def _done_of(line: InvoiceLineFacts) -> int:
    """How much of what a line bills now is covered by what was seen done [minor units], net."""
    done = round_minor(Fraction(line.seen_percent or 0) * line.worth_minor / 100)
    return max(0, min(line.net_minor, done - line.invoiced_before_minor))


def _part(facts: InvoiceFacts) -> int:
    """What may be paid of an invoice with its retention held and no line ahead of what was seen, with tax."""
    net = sum(_done_of(line) if line.net_minor > 0 and _is_ahead(line) else line.net_minor for line in facts.lines)
    whole = facts.net_minor
    held = max(facts.retention_minor, facts.retention_expected_minor)
    held = round_minor(Fraction(held * net, whole)) if whole else held
    return net - held + _tax_of(facts, net - held)


def _tax_of(facts: InvoiceFacts, base_minor: int) -> int:
    if facts.tax_percent is not None:
        return expected_tax(base_minor, 0, facts.tax_percent)
    stated = facts.net_minor - facts.retention_minor
    return round_minor(Fraction(facts.tax_minor * base_minor, stated)) if stated else facts.tax_minor
