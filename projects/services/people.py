"""Who is on the build: letting people in, changing what they may do, and letting them go.

An invitation is a secret link; only the hash of its secret is kept, so nobody who reads the database can use it.
"""

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from projects import trail
from projects.faults import Refused, Stale
from projects.models import Invitation, Membership, Project, Role, User
from projects.services.locks import lock

GOOD_FOR = timedelta(days=14)
#: More open links than any build has people; a slip or a nuisance beyond it.
MOST_OPEN = 50


@dataclass(frozen=True, slots=True)
class Invited:
    """An invitation and its secret; the secret is not kept and cannot be shown again."""

    invitation: Invitation
    secret: str


@dataclass(frozen=True, slots=True)
class NewAccount:
    """What somebody without an account gives when they join."""

    name: str
    username: str
    password: str


def hash_of(secret: str) -> str:
    """The kept form of a secret. It is long and random, so a plain hash cannot be guessed backwards."""
    return hashlib.sha256(secret.encode()).hexdigest()


@transaction.atomic
def invite(project: Project, *, role: str, note: str, by: User, now: datetime) -> Invited:
    """Make a link that lets its bearer join once, within fourteen days.

    Writes Invitation and a trail row. Not safe to repeat: each call is a further link.
    Raises: Refused, naming the field.
    """
    held = lock(project)
    if role not in Role.values:
        raise Refused(_("Choose a role."), field="role")
    if len(note) > 120:
        raise Refused(_("At most 120 letters are kept here."), field="note")
    if (
        Invitation.objects.filter(project=held, accepted_at=None, revoked_at=None, expires_at__gt=now).count()
        >= MOST_OPEN
    ):
        raise Refused(_("%s invitations are open; take some back first.") % MOST_OPEN)
    secret = secrets.token_urlsafe(32)
    invitation = Invitation.objects.create(
        project=held,
        role=role,
        note=note.strip(),
        secret_hash=hash_of(secret),
        created_at=now,
        created_by=by,
        expires_at=now + GOOD_FOR,
    )
    whom = note.strip() or _("somebody")
    trail.note(
        held, by=by, at=now, verb="invited", subject="invitation", subject_id=invitation.pk,
        summary=_("Invited %(whom)s as %(role)s") % {"whom": whom, "role": Role(role).label},
    )  # fmt: skip
    return Invited(invitation, secret)


def _still_open(secret: str, now: datetime) -> Invitation:
    """The invitation behind a secret, its project held. Raises: Refused, the same for every cause."""
    found = Invitation.objects.select_related("project").filter(secret_hash=hash_of(secret)).first()
    if found is not None:
        lock(found.project)
        found.refresh_from_db(fields=["accepted_at", "revoked_at", "expires_at"])
    if found is None or not is_open(found, now):
        raise Refused(_("This link no longer works; ask the one who sent it for a new one."))
    return found


def is_open(invitation: Invitation, now: datetime) -> bool:
    return invitation.accepted_at is None and invitation.revoked_at is None and invitation.expires_at > now


@transaction.atomic
def accept_invitation(secret: str, *, by: User, now: datetime) -> Membership:
    """Make somebody with an account a member by their link; the link is then used up.

    Writes Membership (one who had left comes back), Invitation and a trail row. Repeating is refused.
    Raises: Refused.
    """
    invitation = _still_open(secret, now)
    return _join(invitation, by, now)


@transaction.atomic
def accept_with_account(secret: str, account: NewAccount, *, now: datetime) -> Membership:
    """Make an account for the bearer of a link, and make them a member.

    Writes User, Membership, Invitation and a trail row. Repeating is refused.
    Raises: Refused, naming the field.
    """
    invitation = _still_open(secret, now)
    return _join(invitation, _new_user(account), now)


def _new_user(account: NewAccount) -> User:
    name, username = account.name.strip(), account.username.strip()
    user = User(username=username, first_name=name, email="")
    if not name or len(name) > 150:
        raise Refused(_("Give your name, in at most 150 letters."), field="name")
    try:
        user.clean_fields(exclude=["password"])
    except ValidationError as fault:
        raise Refused("; ".join(fault.messages), field="username") from None
    try:
        validate_password(account.password, user)
    except ValidationError as fault:
        raise Refused(" ".join(fault.messages), field="password") from None
    user.set_password(account.password)
    return _saved(user)


def _saved(user: User) -> User:
    taken = Refused(_("This sign-in name is taken; choose another."), field="username")
    if User.objects.filter(username__iexact=user.username).exists():
        raise taken
    try:
        with transaction.atomic():
            user.save(force_insert=True)
    except IntegrityError:
        raise taken from None
    return user


def _join(invitation: Invitation, user: User, now: datetime) -> Membership:
    project = invitation.project
    standing = Membership.objects.filter(project=project, user=user).first()
    if standing is not None and standing.left_at is None:
        raise Refused(_("You are on this build already; the link stays good for somebody else."))
    membership, _made = Membership.objects.update_or_create(
        project=project, user=user, defaults={"role": invitation.role, "joined_at": now, "left_at": None}
    )
    invitation.accepted_at, invitation.accepted_by = now, user
    invitation.save(update_fields=["accepted_at", "accepted_by"])
    trail.note(
        project, by=user, at=now, verb="joined", subject="member", subject_id=membership.pk,
        summary=_("%(who)s joined as %(role)s") % {"who": user.called, "role": Role(membership.role).label},
    )  # fmt: skip
    return membership


@transaction.atomic
def revoke_invitation(invitation: Invitation, *, by: User, now: datetime) -> Invitation:
    """Take a link back before it is used.

    Writes Invitation and a trail row. Safe to repeat: a link that was taken back stays so.
    Raises: Refused when somebody has joined by it.
    """
    project = lock(invitation.project)
    held = Invitation.objects.get(pk=invitation.pk)
    if held.accepted_at is not None:
        raise Refused(_("Somebody has joined by this link; take them off the build instead."))
    if held.revoked_at is None:
        held.revoked_at = now
        held.save(update_fields=["revoked_at"])
        trail.note(
            project, by=by, at=now, verb="took back", subject="invitation", subject_id=held.pk,
            summary=_("Took back the invitation of %s") % (held.note or _("somebody")),
        )  # fmt: skip
    return held


def _membership(membership: Membership) -> tuple[Project, Membership]:
    """The project and the standing row of a member. Raises: Refused for one who has left."""
    project = lock(membership.project)
    held = Membership.objects.select_related("user").get(pk=membership.pk)
    if held.left_at is not None:
        raise Refused(_("%s is no longer on this build.") % held.user.called)
    return project, held


def _keep_a_lead(project: Project, leaving: Membership) -> None:
    others = Membership.objects.filter(project=project, role=Role.LEAD, left_at=None).exclude(pk=leaving.pk)
    if leaving.role == Role.LEAD and not others.exists():
        raise Refused(_("A build needs a lead; make somebody else a lead first."), field="role")


@transaction.atomic
def change_role(membership: Membership, *, role: str, was: str, by: User, now: datetime) -> Membership:
    """Change what a member may do.

    Args:
        was: the role that the one who changes it saw.
    Writes Membership and a trail row. Safe to repeat: the same role writes nothing.
    Raises: Stale when the role is no longer what was seen; Refused for the last lead.
    """
    project, held = _membership(membership)
    if role not in Role.values:
        raise Refused(_("Choose a role."), field="role")
    if held.role == role:
        return held
    if held.role != was:
        raise Stale(
            _("Somebody else changed this role meanwhile; look at what stands now."), theirs={"role": held.role}
        )
    _keep_a_lead(project, held)
    held.role = role
    held.save(update_fields=["role"])
    trail.note(
        project, by=by, at=now, verb="changed", subject="member", subject_id=held.pk,
        summary=_("Made %(who)s %(role)s") % {"who": held.user.called, "role": Role(role).label}, details={"was": was, "is": role},
    )  # fmt: skip
    return held


@transaction.atomic
def remove_member(membership: Membership, *, by: User, now: datetime) -> Membership:
    """Let a member go; what they did stays in the trail under their name.

    Writes Membership and a trail row. Repeating is refused.
    Raises: Refused for the last lead and for one who has left.
    """
    project, held = _membership(membership)
    _keep_a_lead(project, held)
    held.left_at = now
    held.save(update_fields=["left_at"])
    trail.note(
        project, by=by, at=now, verb="took off", subject="member", subject_id=held.pk,
        summary=_("Took %s off the build") % held.user.called,
    )  # fmt: skip
    return held
