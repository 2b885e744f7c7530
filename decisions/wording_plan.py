"""What an option does to the plan, in a sentence, from the content that a record freezes."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from projects import display
from projects.models import Project

Plan = Mapping[str, Any]


def sentence(plan: Plan, project: Project) -> str:
    """Say what becomes of the opening and of the float; or why the changes do not fit the plan."""
    if "finish" not in plan:
        return str(plan["fault"])
    return f"{_opening(plan, project)} {_float(plan)}".strip()


def _opening(plan: Plan, project: Project) -> str:
    days = plan["moved_days"]
    told = {
        "before": display.day(date.fromisoformat(plan["without"]), project.locale),
        "after": display.day(date.fromisoformat(plan["finish"]), project.locale),
        "days": abs(days),
    }
    if not days:
        return _("The opening stays on %(before)s.") % told
    if days > 0:
        words = ngettext(
            "The opening moves from %(before)s to %(after)s, %(days)d day later.",
            "The opening moves from %(before)s to %(after)s, %(days)d days later.",
            days,
        )
    else:
        words = ngettext(
            "The opening moves from %(before)s to %(after)s, %(days)d day earlier.",
            "The opening moves from %(before)s to %(after)s, %(days)d days earlier.",
            -days,
        )
    return words % told


def _float(plan: Plan) -> str:
    used, left = plan["float_used"], plan["float_days"]
    if not used:
        return ""
    if used == left:
        return ngettext("It uses all of %d working day of float.", "It uses all %d working days of float.", left) % left
    return _("It uses %(used)d of %(left)d working days of float.") % {"used": used, "left": left}
