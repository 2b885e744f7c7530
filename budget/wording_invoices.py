"""Invoices in words: the verdict and its reasons in our own voice, and one sentence that can be sent to the vendor.

A sentence is made of what a reason holds and of nothing else, so that the one kept in a step says today what it said
then. The vendor's own sentence asks for one thing and gives the reason; it names no other vendor and no suspicion.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from budget.calc import verdicts
from budget.calc.verdicts import Judgement, Reason
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


def verdict(found: str) -> str:
    """The verdict in a word or two."""
    return {"pay": _("pay"), "part": _("pay part"), "query": _("query")}[found]


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
    return _("%(line)s is billed to %(claimed)s, and %(seen)s of it was seen done.") % _shares(voice, told)


def _shares(voice: Voice, told: dict[str, Any]) -> dict[str, Any]:
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


# --- the vendor's voice -----------------------------------------------------------------------------------------


def to_vendor(found: Judgement, voice: Voice) -> str:
    """One sentence that asks the vendor for what is needed, ready to be sent; empty where all is well."""
    codes = {reason.code for reason in found.reasons}
    for asked, words in _ASKED:
        if codes & asked:
            also = asked | {verdicts.NO_CHANGE} if asked == _CREDITED else asked
            return words(voice, [reason for reason in found.reasons if reason.code in also])
    return ""


def _ask_whether_sent_twice(voice: Voice, asked: Sequence[Reason]) -> str:
    told = asked[0].figures
    if told.get("same_amount"):
        return _(
            "Please tell us whether %(number)s is a further invoice or %(earlier)s sent again: "
            "both bill the same amount for the same work."
        ) % {**told, "number": voice.number}
    return _(
        "Please tell us whether %(number)s and %(earlier)s are two invoices or one: their numbers are almost the same."
    ) % {
        **told,
        "number": voice.number,
    }


def _ask_by_telephone(voice: Voice, asked: Sequence[Reason]) -> str:
    return _(
        "Before we pay %(number)s we shall ring you on the number we already have for you, to confirm the bank details on it."
    ) % {"number": voice.number}


def _ask_for_currency(voice: Voice, asked: Sequence[Reason]) -> str:
    return _("Please send %(number)s again in %(agreed)s, as we agreed: it is made out in %(currency)s.") % {
        **asked[0].figures,
        "number": voice.number,
    }


def _ask_for_order(voice: Voice, asked: Sequence[Reason]) -> str:
    return _("Please tell us which agreement %(number)s belongs to: we have none with you for %(line)s.") % {
        **asked[0].figures,
        "number": voice.number,
    }


def _ask_for_agreement_first(voice: Voice, asked: Sequence[Reason]) -> str:
    told = asked[0].figures
    return _(
        "We cannot pay the %(amount)s for change %(change)s on %(number)s yet: it was not agreed in writing; "
        "please wait for our word or send a credit note."
    ) % {**told, "number": voice.number, "amount": voice.money(told["net_minor"])}


def _ask_for_credit(voice: Voice, asked: Sequence[Reason]) -> str:
    """What is billed beyond, of all lines, with every reason against it."""
    over = [row.figures for row in asked if row.code == verdicts.OVER_AGREEMENT]
    closed = [row.figures for row in asked if row.code == verdicts.CLOSED_LINE]
    amount = sum(int(told["own_minor"] or 0) for told in over) or sum(int(told["net_minor"] or 0) for told in closed)
    why = [_("it goes beyond what we agreed")] if over else []
    why += [_("no change was agreed for it")] if any(row.code == verdicts.NO_CHANGE for row in asked) else []
    why += [_("the account for this work is settled")] if closed else []
    return _("Please send a credit note for %(amount)s: %(number)s bills that much for %(lines)s, and %(why)s.") % {
        "amount": voice.money(amount),
        "number": voice.number,
        "lines": _and(dict.fromkeys(str(told["line"]) for told in [*over, *closed])),
        "why": _and(why),
    }


def _and(parts: Iterable[str]) -> str:
    """One, two or several parts as one: "a", "a and b", "a, b and c"."""
    *firsts, last = parts
    return _("%(firsts)s and %(last)s") % {"firsts": ", ".join(firsts), "last": last} if firsts else last


def _ask_for_credit_on_change(voice: Voice, asked: Sequence[Reason]) -> str:
    told = asked[0].figures
    return _(
        "Please send a credit note for %(by)s: %(number)s goes beyond the %(agreed)s that we agreed for change %(change)s."
    ) % {
        **told,
        "number": voice.number,
        "by": voice.money(told["by_minor"]),
        "agreed": voice.money(told["change_minor"]),
    }


def _ask_what_it_credits(voice: Voice, asked: Sequence[Reason]) -> str:
    return _(
        "Please tell us which invoice %(number)s credits: it gives back more for %(line)s than you billed us there."
    ) % {
        **asked[0].figures,
        "number": voice.number,
    }


def _ask_for_tax(voice: Voice, asked: Sequence[Reason]) -> str:
    told = asked[0].figures
    figures = {
        "number": voice.number,
        "by": voice.money(abs(int(told["by_minor"] or 0))),
        "tax": voice.money(told["tax_minor"]),
        "right": voice.money(told["expected_minor"]),
    }
    if int(told["by_minor"] or 0) > 0:
        return (
            _(
                "Please send a credit note for %(by)s of tax: %(number)s states %(tax)s, and by its own rate it is %(right)s."
            )
            % figures
        )
    return (
        _("Please put the tax on %(number)s right: it states %(tax)s, and by its own rate it is %(right)s.") % figures
    )


def _say_part(voice: Voice, asked: Sequence[Reason]) -> str:
    """Why a part is paid and not the whole; of what is paid already, what follows for the next."""
    why = [_part_of(voice, row) for row in asked]
    said = _("We paid %(number)s in full: %(why)s.") if voice.paid else _("We pay part of %(number)s now: %(why)s.")
    return said % {"number": voice.number, "why": "; ".join(why)}


def _part_of(voice: Voice, row: Reason) -> str:
    told = row.figures
    if row.code == verdicts.NO_RETENTION:
        held = {"right": voice.money(told["by_minor"])}
        if voice.paid:
            return _("we shall hold back the %(right)s of retention we agreed from your next invoice") % held
        return _("we hold back %(right)s of retention as agreed") % held
    if voice.paid:
        said = _(
            "%(line)s is billed to %(claimed)s and we have seen %(seen)s of it done, so nothing more falls due until the work has caught up"
        )
    else:
        said = _("%(line)s is billed to %(claimed)s and we have seen %(seen)s of it done")
    return said % _shares(voice, told)


_CREDITED = frozenset({verdicts.CLOSED_LINE, verdicts.OVER_AGREEMENT})
#: What is asked first, of all that does not fit: the reasons it rests on, and its words.
_ASKED: tuple[tuple[frozenset[str], Callable[[Voice, Sequence[Reason]], str]], ...] = (
    (frozenset({verdicts.DUPLICATE}), _ask_whether_sent_twice),
    (frozenset({verdicts.BANK_CHANGED}), _ask_by_telephone),
    (frozenset({verdicts.ANOTHER_CURRENCY}), _ask_for_currency),
    (frozenset({verdicts.NO_AGREEMENT}), _ask_for_order),
    (_CREDITED, _ask_for_credit),
    (frozenset({verdicts.NO_CHANGE}), _ask_for_agreement_first),
    (frozenset({verdicts.OVER_CHANGE}), _ask_for_credit_on_change),
    (frozenset({verdicts.LOOSE_CREDIT}), _ask_what_it_credits),
    (frozenset({verdicts.WRONG_TAX}), _ask_for_tax),
    (frozenset({verdicts.NO_RETENTION, verdicts.AHEAD}), _say_part),
)


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
