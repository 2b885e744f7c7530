"""One sentence about an invoice that can be sent to its vendor.

It asks for one thing and gives the reason; it names no other vendor and no suspicion. Like our own words it is made of
what a reason holds and of nothing else.
"""

from collections.abc import Callable, Iterable, Sequence

from django.utils.translation import gettext as _

from budget.calc import verdicts
from budget.calc.verdicts import Judgement, Reason
from budget.wording_invoices import Voice, shares


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
    return said % shares(voice, told)


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
