"""The demo project, built once and put back before each journey.

Building it replays a year of deeds and takes seconds; putting its rows back takes a fraction of one. Rows are read and
written through the models, so that it is the same on every database.
"""

from django.apps import apps
from django.core.management.color import no_style
from django.db import connection, models, transaction

from projects.models import Project, User
from reports.demo import load

OURS = {"projects", "budget", "schedule", "decisions", "reports"}
Kept = dict[type[models.Model], list[models.Model]]


def all_models() -> list[type[models.Model]]:
    every = apps.get_models(include_auto_created=True)
    return [model for model in every if model._meta.app_label in OURS]


def build() -> Kept:
    """Build the demo in the database of this test and remember every row of it."""
    load.load()
    return {model: list(model._base_manager.order_by("pk")) for model in all_models()}


def put_back(kept: Kept) -> None:
    """Write the remembered rows, with their keys, into an empty database. Foreign keys are checked at the end."""
    with transaction.atomic():
        for model, rows in kept.items():
            model._base_manager.bulk_create(rows)
        with connection.cursor() as cursor:
            for statement in connection.ops.sequence_reset_sql(no_style(), list(kept)):
                cursor.execute(statement)


def project() -> Project:
    return Project.objects.get(slug=load.SLUG)


def counts() -> dict[str, int]:
    """How many rows each of our tables has now."""
    return {model.__name__: model._base_manager.count() for model in all_models()}


def person(username: str) -> User:
    """Somebody of the demo's cast."""
    return project().memberships.get(user__username=username).user


def outsider() -> User:
    """Has an account, and no business on the demo."""
    return User.objects.get(username=load.OUTSIDER[0])
