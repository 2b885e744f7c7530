"""What every test can count on: no network, a browser that is there, and properties that do not watch the clock."""

import os
from collections.abc import Iterator

import browser
import pytest
from django.db import connection
from hypothesis import HealthCheck, settings
from pytest_django import DjangoDbBlocker

from projects.models import Project, Role, User
from tests import builders, network

settings.register_profile("house", deadline=None, max_examples=100, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("ci", parent=settings.get_profile("house"), derandomize=True, print_blob=True)
settings.load_profile("ci" if os.environ.get("CI") == "true" else "house")

network.close_the_door()


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[None]:
    """Take the tests' database away although somebody has stayed: a page that a browser left may keep a thread of the server,
    and with it a connection, a moment longer than the last test, and PostgreSQL drops no database that is in use.
    """
    yield
    if connection.vendor == "postgresql":
        with django_db_blocker.unblock(), connection.cursor() as cursor:
            cursor.execute(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
                " WHERE datname = current_database() AND pid <> pg_backend_pid()"
            )


@pytest.fixture(scope="session")
def browser_type_launch_args() -> dict[str, object]:
    """The system's Chromium, cut off from every address but this machine's own."""
    only_here = "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1, EXCLUDE localhost"
    return {
        "executable_path": browser.found_or_installed(),
        "args": ["--no-sandbox", "--disable-background-networking", only_here],
    }


# --- The fixed cast: one build, a member of each role, and somebody who is not on it ---------------------------


@pytest.fixture
def lead(db: None) -> User:
    return builders.person("lead", "Lee Lead")


@pytest.fixture
def project(lead: User) -> Project:
    """A project that the lead has started; the lead may commit £25,000 without an owner."""
    return builders.project(lead, lead_limit=25_000)


@pytest.fixture
def owner(project: Project) -> User:
    return builders.member(project, builders.person("owner", "Olu Owner"), Role.OWNER).user


@pytest.fixture
def bookkeeper(project: Project) -> User:
    return builders.member(project, builders.person("bookkeeper", "Bo Book"), Role.BOOKKEEPER).user


@pytest.fixture
def viewer(project: Project) -> User:
    return builders.member(project, builders.person("viewer", "Vi Viewer"), Role.VIEWER).user


@pytest.fixture
def outsider(db: None) -> User:
    """Has an account and a build of their own, and no business on the project of the others."""
    user = builders.person("outsider", "Out Sider")
    builders.project(user, name="Elsewhere")
    return user
