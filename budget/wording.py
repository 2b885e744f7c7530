"""Money in words: the steps of the bridge, and the rule behind a likely final."""

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from budget.calc import reasons
from budget.selectors.overview import Overview
from projects import display
from projects.models import Project


def bridge_steps(seen: Overview) -> list[tuple[str, int, int]]:
    """The bridge as (label, amount, where it stands after) [minor units], from the first budget to the likely final."""
    total = seen.total
    causes = [(step.label, step.amount, step.running) for step in seen.bridge]
    return [(_("first budget"), total.budget, total.budget), *causes, (_("likely final"), total.likely, total.likely)]


def rule(reason: reasons.Reason, vendor: str) -> str:
    """The rule that a likely final was found by, as one sentence."""
    if reason.rule == reasons.MIDDLE:
        return _middle(reason.among, vendor)
    return {
        reasons.CLOSED: _("The line is closed: its likely final is what was invoiced."),
        reasons.OWN: _("Your own forecast stands over the quotes and the agreement until you lift it."),
        reasons.ASIDE: _("This is money set aside: what is left of it is its likely final."),
        reasons.AGREED: _("The line is let: what was agreed, with what the agreed price leaves open."),
        reasons.BEYOND: _("More is invoiced than was agreed: the invoices count."),
        reasons.PREFERRED: _("%(vendor)s is preferred: its levelled amount counts.") % {"vendor": vendor},
        reasons.ESTIMATE: _("No quote counts: the newest estimate does."),
        reasons.BUDGET: _("There is no quote and no estimate: the budget counts."),
    }[reason.rule]


def _middle(among: int, vendor: str) -> str:
    if among == 1:
        return _("%(vendor)s is the only complete quote that still holds: its levelled amount counts.") % {
            "vendor": vendor
        }
    return ngettext(
        "%(vendor)s is the middle of %(count)d complete quote that still holds; the lowest never counts by itself.",
        "%(vendor)s is the middle of %(count)d complete quotes that still hold; the lowest never counts by itself.",
        among,
    ) % {"vendor": vendor, "count": among}


def part(kind: str) -> str:
    """What one amount inside a likely final is."""
    return {
        "invoiced": _("invoiced"),
        "own forecast": _("own forecast"),
        "budget": _("budget"),
        "moved": _("budget moved here"),
        "agreed": _("agreed"),
        "changes": _("agreed changes"),
        "likely changes": _("proposed changes, by their chance"),
        "currency": _("movement from currency"),
        "gaps": _("open gaps beside the agreement"),
        "to let": _("still to be let"),
        "levelled": _("levelled amount"),
        "estimate": _("newest estimate"),
        "effects": _("knock-ons of decisions on other lines"),
    }[kind]


def moved(line: str, before: int, after: int, project: Project) -> str:
    """How a deed moved a likely final, as one sentence."""
    return _("The likely final of %(line)s moved from %(before)s to %(after)s.") % {
        "line": line,
        "before": display.money(before, project, brief=True),
        "after": display.money(after, project, brief=True),
    }
