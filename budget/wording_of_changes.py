"""Changes in words: whose limit holds a sum, and who is waited for."""

from collections.abc import Sequence

from django.utils.translation import gettext as _

from projects import display, limits
from projects.models import Project

#: So many people are named; the others are "or others".
NAMED = 3


def limit(most_minor: int | None, project: Project) -> str:
    """Up to how much somebody may agree to by themselves, before any amount is known."""
    if most_minor is None:
        return _("You may agree to a change of any amount.")
    if most_minor == 0:
        return _("Your role has no limit of its own: a change that costs money waits for somebody who may agree to it.")
    return _(
        "Your limit is %(limit)s: up to it you may agree at once, above it the change waits for somebody who may."
    ) % {"limit": _brief(most_minor, project)}


def within(amount_minor: int, most_minor: int | None, names: Sequence[str], project: Project) -> str:
    """Whether an amount lies within somebody's limit, and else who it will wait for.

    Args:
        amount_minor: what it costs [project minor units], 0 for a credit.
        names: everybody whose limit holds it.
    """
    if amount_minor == 0:
        return _("This costs the project nothing: you may agree to it at once.")
    amount = _brief(amount_minor, project)
    if limits.covers(most_minor, amount_minor):
        if most_minor is None:
            return _("You may agree to %s at once.") % amount
        return _("%(amount)s is within your limit of %(limit)s: you may agree to it at once.") % {
            "amount": amount, "limit": _brief(most_minor, project),
        }  # fmt: skip
    above = _("Above your limit of %s.") % _brief(most_minor or 0, project)
    return f"{above} {waits_for(names)}"


def waits_for(names: Sequence[str]) -> str:
    """Who a change waits for; when nobody's limit holds it, that this has to be mended."""
    if not names:
        return _("Nobody\u2019s limit holds this amount: raise a limit in the settings, or split the work.")
    return _("It waits for %s.") % somebody(names)


def somebody(names: Sequence[str]) -> str:
    """One of several people, the first few by name."""
    shown = list(names[:NAMED])
    if len(names) > NAMED:
        shown.append(_("others"))
    *most, last = shown
    return _("%(most)s or %(last)s") % {"most": ", ".join(most), "last": last} if most else last


def _brief(minor: int, project: Project) -> str:
    return display.money(minor, project, brief=True)


def days(number: int) -> str:
    """How much longer or shorter the work takes, as in "2 days longer"."""
    words = _("%s longer") if number > 0 else _("%s shorter")
    return words % display.days(abs(number))
