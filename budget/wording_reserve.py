"""The contingency in words: whether it is enough, what moved, what a closed line leaves behind."""

from decimal import Decimal

from django.utils.translation import gettext as _

from budget.models import LineItem, Transfer
from budget.selectors.reserve import Reserve
from projects import display
from projects.models import Project


def _brief(minor: int, project: Project) -> str:
    return display.money(minor, project, brief=True)


def enough(seen: Reserve, project: Project) -> str:
    """The one sentence of the page: what is left, and whether it is enough."""
    words = {"left": _brief(abs(seen.left), project), "start": _brief(seen.start, project)}
    if seen.left < 0:
        return _("The contingency of %(start)s is overdrawn by %(left)s: red.") % words
    if seen.cover.ratio is None:
        return _("%(left)s is left of %(start)s, and nothing is open against it.") % words
    words["times"] = display.number(seen.cover.ratio, project.locale)
    return {
        "well": _("%(left)s is left of %(start)s; it covers what is open %(times)s times: enough."),
        "amber": _("%(left)s is left of %(start)s; it covers what is open %(times)s times: amber."),
        "red": _("%(left)s is left of %(start)s; it covers what is open %(times)s times: red."),
    }[seen.cover.signal] % words


def signal_rule(seen: Reserve, project: Project) -> str:
    """What the signal means and what it asks for."""
    if seen.left < 0:
        return _("More was drawn than was set aside: move budget into it before anything else is agreed to.")
    return {
        "well": _("Enough means at least 1.5 times what is open."),
        "amber": _(
            "Amber means under 1.5 times what is open: agree to nothing that can wait, and get firm prices for the lines below."
        ),
        "red": _(
            "Red means less than what is open: tell the owners, put more aside or cut scope, and let what is unpriced first."
        ),
    }[seen.cover.signal]


def budget_moved(made: Transfer, project: Project) -> str:
    return _("Moved %(amount)s of budget from %(from)s to %(to)s.") % {
        "amount": _brief(made.amount_minor, project), "from": made.from_line, "to": made.to_line,
    }  # fmt: skip


def take_back(found: Transfer, project: Project) -> str:
    return _("Take back the %(amount)s that went from %(from)s to %(to)s?") % {
        "amount": _brief(found.amount_minor, project), "from": found.from_line, "to": found.to_line,
    }  # fmt: skip


def limit_of_draws(limit: int | None, project: Project) -> str:
    """Said before anything is typed: up to how much the one who asks may take out of the contingency."""
    rule = _("The total of the budgets stays the same.")
    if limit is None:
        return rule
    return f"{rule} " + _(
        "Out of the contingency your role may move up to %(limit)s at a time; more is for an owner to move."
    ) % {"limit": _brief(limit, project)}


def line_closed(closed: LineItem, project: Project) -> str:
    return _("%(line)s is closed at %(amount)s.") % {"line": closed, "amount": _brief(closed.likely_minor, project)}


def may_give(most: int, project: Project) -> str:
    if not most:
        return _("Nothing of its budget is left to give back.")
    return _(
        "Of its budget as moved %(most)s was not needed. It goes to the contingency; the line\u2019s figures stay as they are."
    ) % {"most": _brief(most, project)}


def together(seen: Reserve, project: Project) -> str:
    """The open risks taken together, or nothing where there are fewer than two."""
    if len(seen.risks) < 2:
        return ""
    none = seen.register.none_chance.quantize(Decimal("0.001"))
    few = _("less than 0.1 %") if not none else display.percent(none, project.locale)
    return _(
        "The chance that none of the open risks happens is %(none)s; all of them together would cost %(worst)s. They are taken to be "
        "independent of each other."
    ) % {"none": few, "worst": _brief(seen.register.worst_minor, project)}
