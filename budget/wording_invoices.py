"""Invoices in words, in our own voice: why something does not fit, where an invoice stands, what the queue comes to.

A reason is told from what it holds and from nothing else, so that one kept in a step says today what it said then.
"""

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from budget.calc import verdicts
from budget.calc.verdicts import Judgement
from budget.models import Invoice, InvoiceStep, VendorBank
from projects import display
from projects.models import Project

Said = Callable[["Voice", dict[str, Any]], str]


@dataclass(frozen=True, slots=True)
class Voice:
    """What a sentence about an invoice is written with: its number, its currency, the marks of the place."""

    number: str
    currency: str
    locale: str
    #: Whether it is paid in full already: then a part cannot be kept back any more.
    paid: bool = False

    def money(self, minor: Any) -> str:
        return display.money(int(minor), display.InCurrency(self.currency, self.locale), brief=True)

    def share(self, percent: Any) -> str:
        return display.percent(Decimal(str(percent)) / 100, self.locale)


def voice_of(invoice: Invoice, project: Project) -> Voice:
    paid = bool(invoice.paid_quoted_minor) and invoice.paid_quoted_minor == invoice.payable_quoted_minor
    return Voice(invoice.number, invoice.currency, project.locale, paid)


def reasons(found: Judgement, voice: Voice) -> list[str]:
    """What does not fit, in our own voice, the worst first."""
    return [_OURS[reason.code](voice, reason.figures) for reason in found.reasons]


def kept_reasons(step: InvoiceStep, voice: Voice) -> list[str]:
    """What did not fit on the day of a deed, as it was frozen in its step."""
    return [
        _OURS[row["code"]](voice, row["figures"]) for row in step.judgement.get("reasons", ()) if row["code"] in _OURS
    ]


# --- our own voice ----------------------------------------------------------------------------------------------


def _our_duplicate(voice: Voice, told: dict[str, Any]) -> str:
    if not told.get("same_amount"):
        return _("Its number is almost that of %(earlier)s.") % told
    return ngettext(
        "%(earlier)s bills the same amount on the same line, %(days_apart)d day apart.",
        "%(earlier)s bills the same amount on the same line, %(days_apart)d days apart.",
        told["days_apart"],
    ) % {**told}


def _our_bank(voice: Voice, told: dict[str, Any]) -> str:
    if told["bank"] == "changed":
        return _("Its bank details are not the ones we know. Ring the vendor on a number you knew before.")
    return _("Nobody has confirmed its bank details yet. Ring the vendor on a number you knew before.")


def _our_currency(voice: Voice, told: dict[str, Any]) -> str:
    return _("It is in %(currency)s; %(agreed)s was agreed.") % told


def _our_no_agreement(voice: Voice, told: dict[str, Any]) -> str:
    return _("Nothing is agreed with this vendor on %(line)s.") % told


def _our_closed(voice: Voice, told: dict[str, Any]) -> str:
    return _("%(line)s is closed: its account was settled.") % told


def _our_over(voice: Voice, told: dict[str, Any]) -> str:
    return _("It takes %(line)s %(by)s over what was agreed.") % {**told, "by": voice.money(told["by_minor"])}


def _our_no_change(voice: Voice, told: dict[str, Any]) -> str:
    if not told.get("change"):
        return _("No change was agreed for what is over.")
    state = {"proposed": _("only proposed"), "declined": _("declined"), "withdrawn": _("withdrawn")}
    return _("It bills change %(change)s, which is %(state)s.") % {
        **told,
        "state": state.get(told["status"], told["status"]),
    }


def _our_over_change(voice: Voice, told: dict[str, Any]) -> str:
    return _("It takes change %(change)s %(by)s over the amount agreed for it.") % {
        **told,
        "by": voice.money(told["by_minor"]),
    }


def _our_loose_credit(voice: Voice, told: dict[str, Any]) -> str:
    return _("It credits more on %(line)s than was billed there.") % told


def _our_tax(voice: Voice, told: dict[str, Any]) -> str:
    said = _("It states %(tax)s of tax, and %(right)s is right.")
    slip = _("One digit differs or two changed places: most likely a slip.") if told.get("swapped") else ""
    figures = {"tax": voice.money(told["tax_minor"]), "right": voice.money(told["expected_minor"])}
    return f"{said % figures} {slip}".strip()


def _our_retention(voice: Voice, told: dict[str, Any]) -> str:
    return _("%(right)s should be held back on it, and %(held)s is.") % {
        "right": voice.money(told["expected_minor"]),
        "held": voice.money(told["held_minor"]),
    }


def _our_ahead(voice: Voice, told: dict[str, Any]) -> str:
    return _("%(line)s is billed to %(claimed)s, and %(seen)s of it was seen done.") % shares(voice, told)


def shares(voice: Voice, told: dict[str, Any]) -> dict[str, Any]:
    return {**told, "claimed": voice.share(told["claimed_percent"]), "seen": voice.share(told["seen_percent"])}


_OURS: dict[str, Said] = {
    verdicts.DUPLICATE: _our_duplicate,
    verdicts.BANK_CHANGED: _our_bank,
    verdicts.ANOTHER_CURRENCY: _our_currency,
    verdicts.NO_AGREEMENT: _our_no_agreement,
    verdicts.CLOSED_LINE: _our_closed,
    verdicts.OVER_AGREEMENT: _our_over,
    verdicts.NO_CHANGE: _our_no_change,
    verdicts.OVER_CHANGE: _our_over_change,
    verdicts.LOOSE_CREDIT: _our_loose_credit,
    verdicts.WRONG_TAX: _our_tax,
    verdicts.NO_RETENTION: _our_retention,
    verdicts.AHEAD: _our_ahead,
}


# --- pages ------------------------------------------------------------------------------------------------------


def to_pay(invoice: Invoice, open_minor: int, project: Project) -> str:
    """What a payment page asks."""
    voice = voice_of(invoice, project)
    if open_minor < 0:
        return _("%(amount)s of %(invoice)s is to come back or to be set off") % {
            "amount": voice.money(-open_minor),
            "invoice": invoice,
        }
    return _("%(amount)s of %(invoice)s is to be paid") % {"amount": voice.money(open_minor), "invoice": invoice}


def to_confirm(bank: VendorBank) -> str:
    return _("Are the details ending in %(shown)s those of %(vendor)s?") % {
        "shown": bank.bank_shown[1:],
        "vendor": bank.vendor,
    }


def bank_caution(bank: VendorBank) -> str:
    who = bank.entered_by.called if bank.entered_by else _("somebody who has left")
    return _(
        "%(who)s entered them on %(date)s. Ring the vendor on a number you knew before, never on one from the invoice or from a "
        "message about it, and have the details read out to you."
    ) % {"who": who, "date": bank.entered_on.isoformat()}


def queue(waiting: int, asked: int, approved_minor: int, project: Project) -> str:
    """What the queue comes to, as one sentence.

    Args:
        waiting: invoices that wait to be approved [-]; asked: those to be asked about [-].
        approved_minor: approved and not yet paid [project minor units].
    """
    parts = []
    if asked:
        parts.append(ngettext("%d invoice has to be asked about", "%d invoices have to be asked about", asked) % asked)
    if waiting:
        parts.append(ngettext("%d waits to be approved", "%d wait to be approved", waiting) % waiting)
    if approved_minor:
        parts.append(_("%s is approved and to be paid") % display.money(approved_minor, project, brief=True))
    return _("%s.") % "; ".join(parts) if parts else _("No invoice waits.")


def standing(invoice: Invoice, found: Judgement, open_minor: int, project: Project) -> str:
    """Where one invoice stands, as the sentence of its page."""
    voice = voice_of(invoice, project)
    told = {"number": invoice.number, "vendor": invoice.vendor, "amount": voice.money(abs(open_minor))}
    if invoice.state == Invoice.State.REFUSED:
        return _("%(number)s of %(vendor)s is refused.") % told
    if invoice.state == Invoice.State.APPROVED:
        return _approved(invoice, open_minor, project) % told
    if found.verdict == "query":
        return _("Ask %(vendor)s about %(number)s before anything is paid.") % told
    told["amount"] = voice.money(abs(found.pay_minor))
    if invoice.kind == Invoice.Kind.CREDIT:
        return _("%(vendor)s credits %(amount)s with %(number)s.") % told
    if found.verdict == "part":
        return _("%(amount)s of %(number)s of %(vendor)s can be paid now.") % told
    return _("%(number)s of %(vendor)s fits: %(amount)s can be paid once it is approved.") % told


def _approved(invoice: Invoice, open_minor: int, project: Project) -> str:
    if not open_minor:
        if invoice.flagged:
            return _("%(number)s of %(vendor)s is paid, and something in it is still to be explained.")
        return _("%(number)s of %(vendor)s is paid.")
    if open_minor < 0:
        return _("%(amount)s is to come back from %(vendor)s for %(number)s.")
    if invoice.due_on is None:
        return _("%(amount)s of %(number)s is approved and to be paid to %(vendor)s.")
    due = display.day(invoice.due_on, project.locale)
    return _("%(amount)s of %(number)s is approved and to be paid to %(vendor)s by {date}.").replace("{date}", due)
