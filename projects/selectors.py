"""What the pages about a project show, read into frozen facts with a stated number of queries."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.core.paginator import Page, Paginator
from django.db.models import Count

from projects.access import MAY, project_date
from projects.models import (
    ApprovalLimit,
    Attachment,
    ExchangeRate,
    Invitation,
    Membership,
    Project,
    Role,
    TrailEntry,
    User,
)
from projects.services import people as joining
from projects.services.builds import LIMITED_ROLES

TRAIL_PAGE = 50


@dataclass(frozen=True, slots=True)
class BuildCard:
    """One project in somebody's list."""

    slug: str
    name: str
    about: str
    role: str
    opens_on: date | None
    days_to_opening: int | None


def my_builds(user: User, *, now: datetime) -> tuple[BuildCard, ...]:
    """The projects that somebody is on, by name. One query."""
    rows = (
        Membership.objects.filter(user=user, left_at=None)
        .select_related("project")
        .order_by("project__name", "project_id")
    )
    return tuple(_card(row, now) for row in rows)


def _card(row: Membership, now: datetime) -> BuildCard:
    project = row.project
    gap = (project.opens_on - project_date(project, now)).days if project.opens_on else None
    return BuildCard(project.slug, project.name, project.about, row.role, project.opens_on, gap)


def only_build(user: User) -> str | None:
    """The slug of somebody's project when they are on just one. One query."""
    slugs = Membership.objects.filter(user=user, left_at=None).values_list("project__slug", flat=True)[:2]
    return slugs[0] if len(slugs) == 1 else None


@dataclass(frozen=True, slots=True)
class Member:
    pk: int
    name: str
    username: str
    role: str
    joined_on: date
    is_me: bool
    last_lead: bool


@dataclass(frozen=True, slots=True)
class OpenInvitation:
    pk: int
    note: str
    role: str
    invited_by: str
    expires_on: date
    days_left: int


@dataclass(frozen=True, slots=True)
class RoleFacts:
    """A role, what it may do, and up to how much it commits the project; None is any amount."""

    role: str
    may: frozenset[str]
    limited: bool
    limit_minor: int | None
    commits: bool


@dataclass(frozen=True, slots=True)
class People:
    members: tuple[Member, ...]
    invitations: tuple[OpenInvitation, ...]
    roles: tuple[RoleFacts, ...]


def people(project: Project, *, me: User, now: datetime) -> People:
    """Members who are on the build, open invitations, and what each role may do. Three queries."""
    return People(_members(project, me), _open_invitations(project, now), roles(project))


def _local_date(project: Project, at: datetime) -> date:
    return at.astimezone(ZoneInfo(project.time_zone)).date()


def _members(project: Project, me: User) -> tuple[Member, ...]:
    rows = list(Membership.objects.filter(project=project, left_at=None).select_related("user"))
    order = {role: place for place, role in enumerate(Role.values)}
    leads = sum(row.role == Role.LEAD for row in rows)
    return tuple(
        Member(
            pk=row.pk,
            name=row.user.called,
            username=row.user.username,
            role=row.role,
            joined_on=_local_date(project, row.joined_at),
            is_me=row.user_id == me.pk,
            last_lead=row.role == Role.LEAD and leads == 1,
        )
        for row in sorted(rows, key=lambda row: (order[row.role], row.user.called.casefold(), row.pk))
    )


def _open_invitations(project: Project, now: datetime) -> tuple[OpenInvitation, ...]:
    rows = Invitation.objects.filter(project=project, accepted_at=None, revoked_at=None, expires_at__gt=now)
    return tuple(
        OpenInvitation(
            pk=row.pk,
            note=row.note,
            role=row.role,
            invited_by=row.created_by.called if row.created_by else "",
            expires_on=_local_date(project, row.expires_at),
            days_left=(row.expires_at - now) // timedelta(days=1),
        )
        for row in rows.select_related("created_by").order_by("expires_at", "pk")
    )


def limits(project: Project) -> dict[str, int | None]:
    """Up to how much each role that commits the project may do so: None is any amount, 0 nothing. One query."""
    standing = {row.role: row.amount_minor for row in ApprovalLimit.objects.filter(project=project)}
    return {role.value: standing.get(role.value, 0) for role in LIMITED_ROLES}


def roles(project: Project) -> tuple[RoleFacts, ...]:
    """Every role with what it may do. One query."""
    standing = limits(project)
    return tuple(_role(role, standing) for role in Role.values)


def _role(role: str, standing: dict[str, int | None]) -> RoleFacts:
    may = frozenset(deed for deed, allowed in MAY.items() if role in allowed)
    limit = standing.get(role, 0)
    return RoleFacts(
        role=role, may=may, limited=limit is not None, limit_minor=limit, commits=role in standing and limit != 0
    )


def member(project: Project, pk: int) -> Membership | None:
    """A member who is on this project. One query."""
    return Membership.objects.filter(project=project, pk=pk, left_at=None).select_related("user", "project").first()


def invitation(project: Project, pk: int) -> Invitation | None:
    """An invitation of this project, open or not. One query."""
    return Invitation.objects.filter(project=project, pk=pk).select_related("project").first()


@dataclass(frozen=True, slots=True)
class Welcome:
    """What somebody with a link may know before they join."""

    project_name: str
    slug: str
    role: str
    invited_by: str
    already_on_it: bool


def welcome(secret: str, *, user: User | None, now: datetime) -> Welcome | None:
    """What a link leads to, or None when it no longer works. At most two queries."""
    found = (
        Invitation.objects.select_related("project", "created_by")
        .filter(secret_hash=joining.hash_of(secret), accepted_at=None, revoked_at=None, expires_at__gt=now)
        .first()
    )
    if found is None:
        return None
    on_it = user is not None and Membership.objects.filter(project=found.project, user=user, left_at=None).exists()
    return Welcome(
        project_name=found.project.name,
        slug=found.project.slug,
        role=found.role,
        invited_by=found.created_by.called if found.created_by else "",
        already_on_it=on_it,
    )


@dataclass(frozen=True, slots=True)
class Rate:
    currency: str
    rate: Decimal
    rated_on: date
    entered_by: str
    stands: bool


def rates(project: Project, purpose: str = ExchangeRate.Purpose.BUDGET) -> tuple[Rate, ...]:
    """All exchange rates of one purpose, by currency, the one that stands first. One query."""
    rows = (
        ExchangeRate.objects.filter(purpose=purpose, project=project)
        .select_related("entered_by")
        .order_by("currency", "-rated_on", "-pk")
    )
    found: list[Rate] = []
    for row in rows:
        stands = not found or found[-1].currency != row.currency
        found.append(
            Rate(row.currency, row.rate, row.rated_on, row.entered_by.called if row.entered_by else "", stands)
        )
    return tuple(found)


def cost_of_day_made_of(project: Project) -> str:
    """What the cost of a day was last said to be made of. One query."""
    newest = TrailEntry.objects.filter(project=project, subject="cost of a day").order_by("-pk").first()
    return newest.details.get("made_of", "") if newest else ""


@dataclass(frozen=True, slots=True)
class Deed:
    """One row of the trail."""

    at: datetime
    clock: str
    who: str
    subject: str
    summary: str


@dataclass(frozen=True, slots=True)
class Trail:
    page: Page
    deeds: tuple[Deed, ...]
    people: tuple[str, ...]
    subjects: tuple[str, ...]


def trail(project: Project, *, who: str = "", subject: str = "", page: str | int = 1) -> Trail:
    """A page of the trail, newest first, and by whom and about what it can be narrowed. Four queries at most.

    A page number that is none, or beyond the last, is the nearest page.
    """
    every = TrailEntry.objects.filter(project=project)
    rows = every.order_by("-at", "-pk")
    rows = rows.filter(by_name=who) if who else rows
    rows = rows.filter(subject=subject) if subject else rows
    found = Paginator(rows, TRAIL_PAGE).get_page(page)
    zone = ZoneInfo(project.time_zone)
    return Trail(
        page=found,
        deeds=tuple(_deed(row, zone) for row in found.object_list),
        people=_names(every, "by_name"),
        subjects=_names(every, "subject"),
    )


def _deed(row: TrailEntry, zone: ZoneInfo) -> Deed:
    at = row.at.astimezone(zone)
    return Deed(at=at, clock=f"{at:%H:%M}", who=row.by_name, subject=row.subject, summary=row.summary)


def _names(rows: object, column: str) -> tuple[str, ...]:
    counted = rows.order_by().values_list(column).annotate(Count("pk"))  # type: ignore[attr-defined]
    return tuple(sorted(name for name, _count in counted))


def attachment(project: Project, pk: int) -> Attachment | None:
    """A file of this project. One query."""
    return Attachment.objects.filter(project=project, pk=pk).first()
