"""The plan as it stands today, to ask what would be otherwise; and what to say where it has no answer."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import date

from django.utils.translation import gettext as _

from projects.faults import Refused
from projects.models import Project
from schedule.calc import network as engine
from schedule.selectors import network as facts


def standing(project: Project, *, today: date) -> facts.Read | None:
    """The network of a project with what has been done of it, without a day to finish by; None where there is no plan.

    Queries: 5.
    """
    plan = facts.plan_of(project)
    if plan is None:
        return None
    return facts.read(project, plan, data_on=today if today >= plan.starts_on else None)


@contextmanager
def refusing(names: Mapping[str, str]) -> Iterator[None]:
    """Say what the engine refuses as something a person can mend.

    Args:
        names: what activities are called, {code: name}.
    """
    try:
        yield
    except engine.CircleOfWork as fault:
        raise Refused(
            _("These activities wait for each other in a circle: %s. Take one of the links out.")
            % " → ".join(f"{code} {names.get(code, '')}".strip() for code in fault.members)
        ) from fault
    except engine.BadNetwork as fault:
        raise Refused(_("The plan cannot be worked out with this: %s.") % fault.mend.rstrip(".")) from fault
