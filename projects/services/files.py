"""Keeping a photograph or a document with its project."""

from datetime import datetime

from django.core.files.base import File
from django.db import transaction
from django.utils.translation import gettext as _

from projects import trail, uploads
from projects.models import Attachment, Project, User


@transaction.atomic
def add_attachment(project: Project, upload: File, *, by: User, now: datetime, field: str = "file") -> Attachment:
    """Keep a file with its project; what it is, is read from its bytes.

    Writes the file, Attachment and a trail row. The same content again is a further row over the same bytes. When the
    transaction around it fails the bytes stay behind, unnamed and out of reach.
    Raises: Refused, at `field`.
    """
    kept = uploads.keep(upload, field=field)
    row = Attachment.objects.create(
        project=project, name=kept.name, kind=kept.kind, size=kept.size, sha256=kept.sha256, added_at=now, added_by=by
    )
    trail.note(
        project,
        by=by,
        at=now,
        verb="added",
        subject="file",
        subject_id=row.pk,
        summary=_("Added the file %s") % row.name,
    )
    return row
