"""Single rows of retention, arrivals and funding, each reached through its project."""

from django.shortcuts import get_object_or_404

from budget.models import Arrival, FundingReceipt, FundingSource, RetentionRelease
from projects.models import Project


def release_in(project: Project, release_id: int) -> RetentionRelease:
    """One release of this project, or 404. Queries: 1."""
    rows = RetentionRelease.objects.select_related("agreement__vendor", "agreement__quote")
    found = get_object_or_404(rows, agreement__project=project, pk=release_id)
    found.agreement.project = project
    return found


def arrival_in(project: Project, arrival_id: int) -> Arrival:
    """One arrival of this project, or 404. Queries: 1."""
    rows = Arrival.objects.select_related("agreement__vendor")
    found = get_object_or_404(rows, agreement__project=project, pk=arrival_id)
    found.agreement.project = project
    return found


def sources(project: Project) -> list[FundingSource]:
    """The sources on the list. Queries: 1."""
    return list(FundingSource.objects.filter(project=project, removed_on=None))


def source_in(project: Project, source_id: int) -> FundingSource:
    """One source of this project, also one that was taken off, or 404. Queries: 1."""
    found = get_object_or_404(FundingSource, project=project, pk=source_id)
    found.project = project
    return found


def receipt_in(project: Project, receipt_id: int) -> FundingReceipt:
    """One receipt of this project, or 404. Queries: 1."""
    rows = FundingReceipt.objects.select_related("source")
    found = get_object_or_404(rows, source__project=project, pk=receipt_id)
    found.source.project = project
    return found
