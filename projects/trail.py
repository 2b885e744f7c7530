"""The one way to write a trail row."""

from datetime import datetime
from typing import Any

from projects.models import Project, TrailEntry, User

SUMMARY_LENGTH = 400


def note(
    project: Project,
    *,
    by: User | None,
    at: datetime,
    verb: str,
    subject: str,
    subject_id: int | None,
    summary: str,
    details: dict[str, Any] | None = None,
) -> TrailEntry:
    """Write that somebody did something; call it inside the transaction of the deed.

    Writes one TrailEntry. Not safe to repeat: every call is a further row.
    """
    return TrailEntry.objects.create(
        project=project,
        at=at,
        by=by,
        by_name=by.called if by else "Batterboard",
        verb=verb,
        subject=subject,
        subject_id=subject_id,
        summary=summary[:SUMMARY_LENGTH],
        details=details or {},
    )
