"""Which tables belong to a project, found out from the models themselves, so that a new table is never forgotten."""

from collections.abc import Iterator
from functools import lru_cache

from django.apps import apps
from django.db import models

from projects.models import Project, User

APPS = ("projects", "budget", "schedule", "decisions", "reports")


def tables() -> tuple[type[models.Model], ...]:
    """Every table of a project below the project itself, a table after those that its rows point to."""
    return _in_order(
        frozenset(model for model in apps.get_models() if model._meta.app_label in APPS and _belongs(model))
    )


def _belongs(model: type[models.Model]) -> bool:
    return model not in (Project, User) and not model._meta.auto_created and path_to_project(model) is not None


@lru_cache(maxsize=256)
def path_to_project(model: type[models.Model]) -> str | None:
    """The shortest way from a row to its project, over columns that are never empty: "decision__project".

    Returns: None where there is none.
    """
    ways: list[tuple[type[models.Model], str]] = [(model, "")]
    seen = {model}
    while ways:
        here, way = ways.pop(0)
        for field in ties(here):
            there, on = target(field), f"{way}{field.name}"
            if there is Project and not field.null:
                return on
            if there not in seen and not field.null and there is not User:
                seen.add(there)
                ways.append((there, f"{on}__"))
    return None


def ties(model: type[models.Model]) -> Iterator[models.ForeignKey]:
    """The columns of a table that point to rows of others."""
    for field in model._meta.concrete_fields:
        if isinstance(field, models.ForeignKey):
            yield field


def target(field: models.ForeignKey) -> type[models.Model]:
    found = field.related_model
    return found if isinstance(found, type) else field.model


@lru_cache(maxsize=8)
def _in_order(found: frozenset[type[models.Model]]) -> tuple[type[models.Model], ...]:
    from graphlib import TopologicalSorter

    sorter: TopologicalSorter[type[models.Model]] = TopologicalSorter()
    for model in sorted(found, key=lambda model: model._meta.label):
        pointed = {target(field) for field in ties(model)} | {rel.related_model for rel in model._meta.many_to_many}
        sorter.add(
            model,
            *sorted((there for there in pointed if there in found and there is not model), key=lambda m: m._meta.label),
        )
    return tuple(sorter.static_order())


def rows(project: Project, model: type[models.Model]) -> "models.QuerySet[models.Model]":
    """The rows of one table that belong to a project, in the order they were written."""
    return model._default_manager.filter(**{str(path_to_project(model)): project}).order_by("pk")
