"""The eyes themselves: each kind of fault is planted once and must be seen."""

import pytest
from playwright.sync_api import expect

from tests.journeys.watching import Person

pytestmark = [pytest.mark.journey, pytest.mark.django_db(transaction=True)]
PAGE = '<!DOCTYPE html><html lang="en"><title>Planted</title><link rel="icon" href="data:,"><main><h1>Planted</h1>{}</main></html>'
PLANTED = {
    "console error": '<script>console.error("planted")</script>',
    "console warning": '<script>console.warn("planted")</script>',
    "script: planted": '<script>throw new Error("planted")</script>',
    "answer 404": '<script src="/nothing-here.js"></script>',
    "request failed": '<script src="/broken-off.js"></script>',
    "image-alt": '<img src="data:image/gif;base64,R0lGODlhAQABAAAAACw=">',
}


def planted(person: Person, inside: str) -> str:
    """Serve a page with a fault in it. Returns: its address."""
    person.page.route("**/planted/", lambda route: route.fulfill(body=PAGE.format(inside), content_type="text/html"))
    person.page.route("**/nothing-here.js", lambda route: route.fulfill(status=404, body="none"))
    person.page.route("**/broken-off.js", lambda route: route.abort())
    return "/planted/"


@pytest.fixture(autouse=True)
def nothing_turned_yet(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Person, "_turned", set())


@pytest.fixture
def person(enter) -> Person:
    return enter()


@pytest.mark.parametrize("fault", PLANTED)
def test_a_planted_fault_is_seen(person: Person, fault: str):
    with pytest.raises(AssertionError, match=fault):
        person.go(planted(person, PLANTED[fault]))
    person.faults.clear()


@pytest.mark.parametrize(
    ("size", "wide"), [("phone", "hr{width:400px}"), ("desk", "@media(min-width:1000px){hr{width:1500px}}")]
)
def test_a_page_wider_than_a_screen_is_seen(enter, size: str, wide: str):
    """On its own size and, opened on the other, all the same."""
    expect.set_options(timeout=300)
    try:
        for opened in ("phone", "desk"):
            person = enter(size=opened)
            with pytest.raises(AssertionError, match=f"wider than a {size}"):
                person.go(planted(person, f"<style>{wide}</style><hr>"))
    finally:
        expect.set_options(timeout=15_000)


def test_a_page_that_nobody_looked_at_is_told(person: Person):
    person.page.goto(planted(person, ""))
    assert [fault.rsplit(": ")[-1] for fault in person.leave()] == ["opened, and nobody looked"]
    person.faults.clear()


def test_an_announced_answer_is_no_fault_and_another_is(person: Person):
    with person.expecting(404):
        person.go(planted(person, PLANTED["answer 404"]))
    with pytest.raises(AssertionError, match="answer 404"), person.expecting(403):
        person.go(planted(person, PLANTED["answer 404"]))
    person.faults.clear()


def test_the_other_size_is_looked_at_once_for_each_kind_of_page(person: Person):
    sizes: list[str] = []
    person._look_at = sizes.append  # type: ignore[method-assign]
    for address in ("/planted/", "/planted/"):
        planted(person, "")
        person.go(address)
    assert sizes == ["desk", "phone", "phone"]


def test_a_page_with_nothing_wrong_is_passed(person: Person):
    person.go(planted(person, "<p>Nothing.</p>"))
    assert person.faults == []
