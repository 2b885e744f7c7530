"""Own entries of the savings book, one at a time, and what the form for one offers."""

from collections.abc import Iterable

from django.shortcuts import get_object_or_404

from decisions.models import BookEntry, Decision
from decisions.selectors.entry import LineChoice
from projects.models import Project


def find(project: Project, pk: int) -> BookEntry:
    """Read one own entry of a project. Raises: Http404, also for a row that takes one back. Queries: 1."""
    rows = BookEntry.objects.filter(project=project, reverses=None).select_related("line", "decision")
    entry = get_object_or_404(rows, pk=pk)
    entry.project = project
    return entry


def open_decisions(project: Project) -> list[Decision]:
    """Read the decisions that an idea may belong to. Queries: 1."""
    return list(Decision.objects.filter(project=project, state=Decision.State.OPEN).order_by("code"))


def code_of(budget: Iterable[LineChoice], wanted: str) -> str:
    """The code of the line that an address asks for by its number, or ""."""
    return next((line.code for line in budget if str(line.pk) == wanted), "")


def next_state(entry: BookEntry) -> str:
    """What an entry becomes next: an idea is priced, what is priced is decided."""
    state = BookEntry.State
    return state.PRICED if entry.state == state.IDEA else state.DECIDED
