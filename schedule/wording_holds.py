"""Hold points in words: what is missing, state by state."""

from collections.abc import Iterable

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from schedule.calc.gates import Check, Lack


def missing(lack: Lack) -> str:
    """One thing that keeps a hold point from being released, as a sentence without a stop."""
    if lack.check is None:
        return _by_signer(lack)
    return _failed(lack.check) if lack.kind == "failed" else _unshown(lack.check)


def _by_signer(lack: Lack) -> str:
    words = {
        "unnamed": _("No check is named yet: say what has to be shown"),
        "unsigned": _("%(role)s has not signed"),
        "early": _("%(role)s signed before everything was shown to pass, and has to sign again"),
    }
    return words[lack.kind] % {"role": lack.role}


def _unshown(check: Check) -> str:
    words = {
        "reading": _("%(check)s: reading missing"),
        "photograph": _("%(check)s: photograph missing"),
        "document": _("%(check)s: document missing"),
        "word": _("%(check)s: note missing"),
    }
    return words[check.evidence] % {"check": check.text}


def _failed(check: Check) -> str:
    found = check.newest.value if check.newest else ""
    told = {"check": check.text, "found": found, "limit": check.limit}
    if found and check.limit:
        return _("%(check)s failed: %(found)s, limit %(limit)s") % told
    if found:
        return _("%(check)s failed: %(found)s") % told
    return (_("%(check)s failed, limit %(limit)s") if check.limit else _("%(check)s failed")) % told


def sentences(lacks: Iterable[Lack]) -> tuple[str, ...]:
    return tuple(missing(lack) for lack in lacks)


def counted(proofs: int, signatures: int) -> str:
    """ "7 proofs and 3 signatures are missing", or what there is of it; empty for nothing."""
    shown = ngettext("%d proof", "%d proofs", proofs) % proofs if proofs else ""
    signed = ngettext("%d signature", "%d signatures", signatures) % signatures if signatures else ""
    if shown and signed:
        return _("%(proofs)s and %(signatures)s are missing") % {"proofs": shown, "signatures": signed}
    one = proofs + signatures == 1
    if not shown and not signed:
        return ""
    return (_("%s is missing") if one else _("%s are missing")) % (shown or signed)
