"""What every test can count on: no network, a browser that is there, and properties that do not watch the clock."""

import os

import browser
import pytest
from hypothesis import settings

from tests import network

settings.register_profile("house", deadline=None, max_examples=100)
settings.register_profile("ci", parent=settings.get_profile("house"), derandomize=True, print_blob=True)
settings.load_profile("ci" if os.environ.get("CI") == "true" else "house")

network.close_the_door()


@pytest.fixture(scope="session")
def browser_type_launch_args() -> dict[str, object]:
    """The system's Chromium, cut off from every address but this machine's own."""
    only_here = "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1, EXCLUDE localhost"
    return {
        "executable_path": browser.found_or_installed(),
        "args": ["--no-sandbox", "--disable-background-networking", only_here],
    }
