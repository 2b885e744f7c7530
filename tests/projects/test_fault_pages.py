"""The pages for when something is wrong: they stand without a request, a database or a project."""

import pytest
from django.template import loader

PAGES = {
    "400.html": "could not be read",
    "403.html": "Your role",
    "404.html": "not yours to see",
    "429.html": "Too many tries",
    "500.html": "not saved",
}


@pytest.mark.parametrize("name", PAGES)
def test_a_fault_page_needs_nothing(name: str):
    html = loader.get_template(name).render()
    assert PAGES[name] in html and '<h1 class="sentence">' in html


def test_the_wait_is_named():
    assert "Try again in 1 minute." in loader.get_template("429.html").render({"wait_minutes": 1})
    assert "Try again in 10 minutes." in loader.get_template("429.html").render({"wait_minutes": 10})


def test_the_worst_page_extends_nothing():
    assert "extends" not in loader.get_template("500.html").template.source


def test_a_member_without_the_right_is_told_the_role():
    from types import SimpleNamespace

    build = SimpleNamespace(name="Tank hall", slug="tank-hall", currency="GBP", locale="en-GB")
    door = SimpleNamespace(project=build, role="viewer", today=None)
    assert "You are here as viewer." in loader.get_template("403.html").render({"door": door})
