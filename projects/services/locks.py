"""Holding a project's row, so that two writers of its settings and people queue up."""

from projects.models import Project


def lock(project: Project) -> Project:
    """Hold the project's row until the transaction ends, and read it anew."""
    return Project.objects.select_for_update().get(pk=project.pk)
