"""The one door: every page and every object is reached through its project and the signed-in member.

An outsider and a project that does not exist get the same answer, so that nobody learns which projects there are.
"""

from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest
from django.utils import timezone, translation

from projects.models import Membership, Project, Role, User

MAY: dict[str, frozenset[str]] = {
    "see": frozenset({Role.LEAD, Role.OWNER, Role.BOOKKEEPER, Role.VIEWER}),
    "edit_money": frozenset({Role.LEAD}),
    "decide": frozenset({Role.LEAD}),
    "plan": frozenset({Role.LEAD}),
    "approve": frozenset({Role.OWNER}),
    "book": frozenset({Role.LEAD, Role.BOOKKEEPER}),
    "commit": frozenset({Role.LEAD, Role.OWNER}),
    "export": frozenset({Role.LEAD, Role.OWNER, Role.BOOKKEEPER}),
    "manage": frozenset({Role.LEAD}),
}


@dataclass(frozen=True, slots=True)
class Door:
    """What a page needs to know about the project and the one who asks."""

    project: Project
    user: User
    role: str
    now: datetime
    today: date

    def may(self, deed: str) -> bool:
        return self.role in MAY[deed]

    @property
    def may_edit(self) -> bool:
        return self.may("edit_money")

    @property
    def may_plan(self) -> bool:
        """Changes the sequence, enters progress, releases hold points."""
        return self.may("plan")

    @property
    def may_approve(self) -> bool:
        return self.may("approve")

    @property
    def may_book(self) -> bool:
        """Enters invoices, payments and what came in."""
        return self.may("book")

    @property
    def may_commit(self) -> bool:
        """Agrees to changes and invoices, within the limit of the role."""
        return self.may("commit")

    @property
    def may_manage(self) -> bool:
        return self.may("manage")

    @property
    def may_export(self) -> bool:
        return self.may("export")


def project_date(project: Project, now: datetime) -> date:
    """The date the project lives by: the held date, else the date in its time zone."""
    return project.held_on or now.astimezone(ZoneInfo(project.time_zone)).date()


def open_project(request: HttpRequest, slug: str, *, may: str = "see") -> Door:
    """Let a member in, and nobody else.

    Returns: the door, also put on the request for the templates. One query.
    Raises: Http404 for anyone who is no member; PermissionDenied for a member whose role may not.
    """
    membership = (
        Membership.objects.select_related("project")
        .filter(project__slug=slug, user_id=request.user.pk, left_at=None)
        .first()
        if request.user.is_authenticated
        else None
    )
    if membership is None:
        raise Http404
    door = _door(membership, request)
    request.door = door  # type: ignore[attr-defined]
    translation.activate(door.project.locale.lower())
    if not door.may(may):
        raise PermissionDenied
    return door


def _door(membership: Membership, request: HttpRequest) -> Door:
    now = timezone.now()
    project = membership.project
    return Door(
        project=project,
        user=request.user,  # type: ignore[arg-type]
        role=membership.role,
        now=now,
        today=project_date(project, now),
    )


def door_context(request: HttpRequest) -> dict[str, object]:
    """Template context processor: the door of this request, if a project was opened."""
    return {"door": getattr(request, "door", None)}
