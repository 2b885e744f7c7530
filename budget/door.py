"""The door to pages that show money: it also lets quotes that ran out leave the likely finals, once a day."""

from django.http import HttpRequest

from budget.services import ledger
from projects import access


def open_project(request: HttpRequest, slug: str, *, may: str = "see") -> access.Door:
    """Let a member in, with figures that are true today. One query more than `access.open_project` at most days."""
    door = access.open_project(request, slug, may=may)
    if door.project.settled_on != door.today:
        ledger.bring_up_to(door.project, today=door.today, at=door.now)
        door.project.settled_on = door.today
    return door
