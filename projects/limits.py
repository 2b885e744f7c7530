"""How much a role may commit the project in one go."""

from django.utils.translation import gettext as _

from projects.faults import Refused
from projects.models import ApprovalLimit, Project


def allows(project: Project, role: str, amount_minor: int) -> bool:
    """Tell whether a role may commit an amount. No limit row means nothing above zero; an empty limit means any amount."""
    limit = ApprovalLimit.objects.filter(project=project, role=role).first()
    if limit is None:
        return amount_minor <= 0
    return limit.amount_minor is None or amount_minor <= limit.amount_minor


def must_allow(project: Project, role: str, amount_minor: int) -> None:
    """Raises: Refused when the amount is above the role's limit."""
    if not allows(project, role, amount_minor):
        raise Refused(
            _(
                "This is above what your role may commit; mark the quote as preferred and ask an owner to accept it, "
                "or record a decision for an owner to approve."
            )
        )
