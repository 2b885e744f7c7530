"""How much a role may commit the project in one go."""

from django.utils.translation import gettext as _

from projects.faults import Refused
from projects.models import ApprovalLimit, Project


def most(project: Project, role: str) -> int | None:
    """Up to how much a role may commit in one go [minor units]: 0 without a row, None for any amount. Queries: 1."""
    limit = ApprovalLimit.objects.filter(project=project, role=role).first()
    return 0 if limit is None else limit.amount_minor


def covers(limit_minor: int | None, amount_minor: int) -> bool:
    """Tell whether a limit, as `most` gives it, lets an amount through."""
    return limit_minor is None or amount_minor <= limit_minor


def allows(project: Project, role: str, amount_minor: int) -> bool:
    """Tell whether a role may commit an amount. No limit row means nothing above zero; an empty limit means any amount."""
    return covers(most(project, role), amount_minor)


def must_allow(project: Project, role: str, amount_minor: int) -> None:
    """Raises: Refused when the amount is above the role's limit."""
    if not allows(project, role, amount_minor):
        raise Refused(
            _(
                "This is above what your role may commit; mark the quote as preferred and ask an owner to accept it, "
                "or record a decision for an owner to approve."
            )
        )
