"""Where vendors are paid: a fingerprint of the number, and a second person's word that it is the vendor's own.

A bill with new bank details is the commonest way in which a build loses money for good. So details are known only once
somebody other than who entered them has rung the vendor on a number that was known before (ADR 0123).
"""

import hashlib
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from budget.models import Vendor, VendorBank, VendorBankConfirmation
from budget.services.bounds import columns_within_bounds
from budget.services.ledger import lock
from projects import trail
from projects.faults import Refused
from projects.models import User

SHOWN = 4
SHORTEST, LONGEST = 6, 64


def fingerprint(vendor: Vendor, details: str) -> tuple[str, str]:
    """What is kept of bank details: a keyed fingerprint, and the last characters to know them by.

    Raises: Refused for what is no account number.
    """
    bare = "".join(sign for sign in details.upper() if sign.isascii() and sign.isalnum())
    if not SHORTEST <= len(bare) <= LONGEST or not any(sign.isdigit() for sign in bare):
        raise Refused(
            _("Give the account number as it stands on the invoice, with its sort or bank code."), field="bank"
        )
    mark = hashlib.blake2b(bare.encode(), key=vendor.project.slug.encode()[:64], digest_size=32).hexdigest()
    return mark, f"\u2026{bare[-SHOWN:]}"


@transaction.atomic
def note_bank(vendor: Vendor, details: str, *, by: User | None, now: datetime, today: date) -> VendorBank:
    """Keep bank details that came with an invoice or a letter; they are not known until they are confirmed.

    Writes VendorBank and a trail row. Safe to repeat: details that are there already are given back.
    """
    project = lock(vendor.project)
    mark, shown = fingerprint(vendor, details)
    standing = VendorBank.objects.filter(vendor=vendor, bank_print=mark).first()
    if standing is not None:
        return standing
    row = VendorBank.objects.create(
        vendor=vendor, bank_print=mark, bank_shown=shown, entered_on=today, entered_at=now, entered_by=by
    )
    trail.note(
        project, by=by, at=now, verb="entered", subject="bank", subject_id=row.pk,
        summary=_("Noted bank details of %(vendor)s ending in %(shown)s") % {"vendor": vendor, "shown": shown[1:]},
    )  # fmt: skip
    return row


@transaction.atomic
def confirm(bank: VendorBank, how: str, *, by: User, now: datetime, today: date) -> VendorBankConfirmation:
    """Give a second person's word that bank details are the vendor's own.

    Writes VendorBankConfirmation and a trail row. A second call is refused, and so is whoever entered the details.
    """
    project = lock(bank.vendor.project)
    if VendorBankConfirmation.objects.filter(bank=bank).exists():
        raise Refused(_("These details are confirmed already."))
    if bank.entered_by_id == by.pk:
        raise Refused(_("You entered these details yourself; somebody else has to confirm them."))
    if not how.strip():
        raise Refused(_("Say whom you rang, and on which number you knew before."), field="how")
    row = VendorBankConfirmation(bank=bank, how=how.strip(), confirmed_on=today, confirmed_at=now, confirmed_by=by)
    columns_within_bounds(row)
    row.save()
    trail.note(
        project, by=by, at=now, verb="confirmed", subject="bank", subject_id=bank.pk,
        summary=_("Confirmed the bank details of %(vendor)s ending in %(shown)s: %(how)s")
        % {"vendor": bank.vendor, "shown": bank.bank_shown[1:], "how": how.strip()},
    )  # fmt: skip
    return row
