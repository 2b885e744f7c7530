"""The door to pages that show dates: work that should have begun and has not is moved to today, once a day."""

from datetime import date, datetime

from django.http import HttpRequest

from projects import access
from projects.models import Project
from schedule.services import plan


def open_project(request: HttpRequest, slug: str, *, may: str = "see") -> access.Door:
    """Let a member in, with dates that are true today. One query more than `access.open_project` at most days."""
    door = access.open_project(request, slug, may=may)
    settle(door.project, today=door.today, now=door.now)
    return door


def settle(project: Project, *, today: date, now: datetime) -> None:
    """Bring a project's dates up to its date, where nobody has looked at them on that date yet. One query at least."""
    plan.bring_up_to(project, today=today, at=now)
