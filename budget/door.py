"""The door to pages that show money: it also lets quotes that ran out leave the likely finals, once a day."""

from datetime import date, datetime

from django.http import HttpRequest

from budget.services import ledger
from projects import access
from projects.models import Project


def open_project(request: HttpRequest, slug: str, *, may: str = "see") -> access.Door:
    """Let a member in, with figures that are true today. One query more than `access.open_project` at most days."""
    door = access.open_project(request, slug, may=may)
    settle(door.project, today=door.today, now=door.now)
    return door


def settle(project: Project, *, today: date, now: datetime) -> None:
    """Bring a project's figures up to its date, where nobody has looked at them on that date yet."""
    if project.settled_on != today:
        ledger.bring_up_to(project, today=today, at=now)
        project.settled_on = today
