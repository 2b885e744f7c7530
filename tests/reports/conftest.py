"""The demo, for tests that only read it."""

from collections.abc import Iterator

import pytest
from django.db import transaction
from pytest_django import DjangoDbBlocker

from projects.models import Project
from reports.demo import load


@pytest.fixture(scope="module")
def demo(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Project]:
    """The demo is built once for a module, inside a transaction that is rolled back after it."""
    with django_db_blocker.unblock(), transaction.atomic():
        yield load.load()
        transaction.set_rollback(True)
