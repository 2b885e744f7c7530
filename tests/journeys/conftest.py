"""What every journey has: the demo, and somebody to open the program as."""

from collections.abc import Callable, Iterator

import pytest
from django.conf import settings
from playwright.sync_api import Browser, expect

from projects.models import Project, User
from tests import builders
from tests.journeys import keeping
from tests.journeys.watching import SIZES, Person

Enter = Callable[..., Person]
expect.set_options(timeout=15_000)  # a machine that is busy with something else is slow, not wrong


@pytest.fixture(scope="session")
def kept_demo() -> keeping.Kept:
    """The rows of the demo, once a journey has built it."""
    return {}


@pytest.fixture
def demo(transactional_db: None, kept_demo: keeping.Kept) -> Project:
    """The demo as it is when it is new."""
    if kept_demo:
        keeping.put_back(kept_demo)
    else:
        kept_demo.update(keeping.build())
    return keeping.project()


@pytest.fixture
def enter(browser: Browser, live_server) -> Iterator[Enter]:
    """Open the program as somebody, or as a stranger; what there is to complain about fails the test when they leave."""
    people: list[Person] = []

    def come(user: User | None = None, size: str = "phone", *, script: bool = True, scheme: str = "light") -> Person:
        context = browser.new_context(
            viewport=SIZES[size], java_script_enabled=script, color_scheme=scheme, base_url=live_server.url, reduced_motion="reduce"
        )  # fmt: skip
        if user is not None:
            value = builders.signed_in(user).cookies[settings.SESSION_COOKIE_NAME].value
            context.add_cookies([{"name": settings.SESSION_COOKIE_NAME, "value": value, "url": live_server.url}])
        people.append(Person(context, size, script=script))
        return people[-1]

    yield come
    faults = [fault for person in people for fault in person.leave()]
    assert not faults, "\n".join(faults)
