"""Issued reports and the links that stand."""

import json
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.http import Http404

from decisions.calc import sealing
from projects.models import Project, TrailEntry
from projects.services.people import hash_of
from reports.models import IssuedReport, OwnersLink


@dataclass(frozen=True, slots=True)
class LinkRow:
    """A link that works, for the lead's list."""

    id: int
    note: str
    made_by: str
    days_left: int


def reports(project: Project) -> list[IssuedReport]:
    """Every issued report, newest first, without its content. Queries: 1."""
    return list(IssuedReport.objects.filter(project=project).defer("content"))


def last_report(project: Project) -> IssuedReport | None:
    """The newest report. Queries: 1."""
    return IssuedReport.objects.filter(project=project).first()


def report_in(project: Project, number: int) -> IssuedReport:
    """One report of this project by its number, with its content. Raises: Http404. Queries: 1."""
    found = IssuedReport.objects.filter(project=project, number=number).first()
    if found is None:
        raise Http404
    return found


def content(report: IssuedReport) -> dict[str, Any]:
    """What a report froze. Queries: none where the content is at hand."""
    return json.loads(report.content)


def intact(report: IssuedReport) -> bool:
    """Hold what is stored against the hash, and the hash against the one that the trail noted at the time. Queries: 1."""
    said = TrailEntry.objects.filter(
        project_id=report.project_id, subject="report", subject_id=report.pk, verb="issued"
    )
    noted = [entry.get("sha256") for entry in said.values_list("details", flat=True)]
    return sealing.hash_of(report.content) == report.sha256 and noted in ([], [report.sha256])


def links(project: Project, *, now: datetime) -> list[LinkRow]:
    """The links that work. Queries: 1."""
    rows = OwnersLink.objects.filter(project=project, revoked_at=None, expires_at__gt=now).select_related("created_by")
    return [
        LinkRow(row.pk, row.note, row.created_by.called if row.created_by else "", days_left(row, now)) for row in rows
    ]


def days_left(link: OwnersLink, now: datetime) -> int:
    """How many days a link still works, the one that has begun counted whole."""
    return -((now - link.expires_at) // timedelta(days=1))


def link_in(project: Project, pk: int) -> OwnersLink:
    """One link of this project. Raises: Http404. Queries: 1."""
    found = OwnersLink.objects.filter(project=project, pk=pk).select_related("project").first()
    if found is None:
        raise Http404
    return found


def bearer(secret: str, *, now: datetime) -> OwnersLink:
    """The link behind a secret. Raises: Http404, the same when it is unknown, has expired or was taken back. Queries: 1."""
    found = OwnersLink.objects.filter(secret_hash=hash_of(secret)).select_related("project").first()
    if found is None or not found.works(now):
        raise Http404
    return found
