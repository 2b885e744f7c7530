"""Links that show the owners' page to whoever bears them, until they run out or are taken back."""

import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction
from django.utils.translation import gettext as _

from projects import trail
from projects.faults import Refused
from projects.models import Project, User
from projects.services.locks import lock
from projects.services.people import hash_of
from reports.models import OwnersLink

#: How long a link may be good for [days]; the first is the usual one.
GOOD_FOR = (30, 7, 90, 365)
#: More open links than any build has owners; a slip or a nuisance beyond it.
MOST_OPEN = 50


@dataclass(frozen=True, slots=True)
class Given:
    """A link and its secret; the secret is not kept and cannot be shown again."""

    link: OwnersLink
    secret: str


@transaction.atomic
def give(project: Project, *, note: str, days: int, by: User, now: datetime) -> Given:
    """Make a link that shows the owners' page and nothing else.

    Args:
        note: whom it is for.
        days: how long it works, one of `GOOD_FOR`.
    Writes OwnersLink and a trail row. Not safe to repeat: each call is a further link.
    Raises: Refused, naming the field.
    """
    held, note = lock(project), note.strip()
    if not note or len(note) > 120:
        raise Refused(_("Say whom the link is for, in at most 120 letters."), field="note")
    if days not in GOOD_FOR:
        raise Refused(_("Choose how long the link works."), field="days")
    if OwnersLink.objects.filter(project=held, revoked_at=None, expires_at__gt=now).count() >= MOST_OPEN:
        raise Refused(_("%s links work already; take some back first.") % MOST_OPEN)
    secret = secrets.token_urlsafe(32)
    link = OwnersLink.objects.create(
        project=held,
        note=note,
        secret_hash=hash_of(secret),
        created_at=now,
        created_by=by,
        expires_at=now + timedelta(days=days),
    )
    trail.note(
        held, by=by, at=now, verb="gave", subject="owners link", subject_id=link.pk,
        summary=_("Gave %(whom)s a link to the owners' page for %(days)s days") % {"whom": note, "days": days},
    )  # fmt: skip
    return Given(link, secret)


@transaction.atomic
def take_back(link: OwnersLink, *, by: User, now: datetime) -> OwnersLink:
    """Stop a link from working, at once and for good.

    Writes OwnersLink and a trail row. Safe to repeat: a link that was taken back stays so.
    """
    project = lock(link.project)
    held = OwnersLink.objects.get(pk=link.pk)
    if held.revoked_at is None:
        held.revoked_at = now
        held.save(update_fields=["revoked_at"])
        trail.note(
            project, by=by, at=now, verb="took back", subject="owners link", subject_id=held.pk,
            summary=_("Took back the owners' link of %s") % held.note,
        )  # fmt: skip
    return held
