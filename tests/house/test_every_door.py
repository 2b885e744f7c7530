"""Every address of the program is tried by those who may not be there; a new address is caught here.

Three rules are swept: a stranger is led to sign in, an outsider gets the same answer as for a project that does not
exist, and whoever may only read changes nothing by sending a form.
"""

import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.apps import apps
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver

from projects.models import Project, User
from tests import builders
from tests.decisions import book_building

#: Addresses that anybody may open, each with its reason. Anything else asks who is there.
PUBLIC = {
    "sign-in/": "one signs in there",
    "password/forgotten/": "one cannot sign in without it",
    "password/forgotten/sent/": "says that a letter is on its way, or not",
    "password/new/<uidb64>/<token>/": "the link of that letter",
    "password/new/done/": "says that it is done",
    "join/<str:secret>/": "the link is the ticket",
    "o/<str:token>/": "the link is the ticket, to the owners' page alone",
}
#: Where a bookkeeper enters what came in and what was paid; everywhere else they only read.
BOOKED = ("p/<slug:slug>/money/invoices/", "p/<slug:slug>/money/cash/")
CONVERTERS = {"int": "1", "slug": "nothing", "str": "nothing", "uuid": "00000000-0000-4000-8000-000000000000"}
KWARG = re.compile(r"<(?:(\w+):)?(\w+)>")


def routes(resolver: URLResolver | None = None, prefix: str = "") -> Iterator[str]:
    """Every route of the program, as it is written."""
    for entry in (resolver or get_resolver()).url_patterns:
        route = prefix + str(entry.pattern)
        if isinstance(entry, URLPattern):
            yield route
        else:
            yield from routes(entry, route)


def filled(route: str, *, slug: str, pk: int = 1) -> str:
    """An address that fits the route."""

    def value(found: re.Match[str]) -> str:
        if found[2] == "slug":
            return slug
        return str(pk) if found[1] == "int" else CONVERTERS[found[1] or "str"]

    return "/" + KWARG.sub(value, route)


PROJECT_ROUTES = [route for route in routes() if route.startswith("p/<slug:slug>/")]
OTHER_ROUTES = [route for route in routes() if not route.startswith("p/<slug:slug>/")]


@pytest.fixture
def furnished(project: Project) -> Project:
    """A project with something behind most addresses."""
    line = builders.line(project)
    builders.quote(line, 9_000)
    builders.decision(line)
    builders.attachment(project)
    builders.moved(builders.aside(project), line, 10)
    builders.risk(project)
    builders.billed(project)
    builders.cash(project)
    builders.let(builders.line(project, "L0202"), 5_000)
    book_building.enter(line, 0, state="idea")
    builders.change(project.lines.get(code="L0202"))
    builders.calendar(project)
    builders.activity(project, "A01", covers=True)
    builders.activity(project, "A02")
    builders.signature(builders.hold_point(project, activity="A02", stops=("A01",)))
    builders.delivery(project)
    builders.promise(builders.need(project))
    builders.question(project)
    return project


def keys(project: Project) -> list[int]:
    """Keys of real rows of the project, so that an address with a key leads to something."""
    rows = (
        row.pk
        for field in Project._meta.related_objects
        for row in field.related_model._default_manager.filter(**{field.field.name: project})[:1]
    )
    return sorted(set(rows))


def addresses(route: str, project: Project) -> list[str]:
    """The route filled with every key; two keys in one address are the same key."""
    return list(dict.fromkeys(filled(route, slug=project.slug, pk=pk) for pk in keys(project)))


def asked(ask: Callable[..., Any], address: str) -> Any:
    answer = ask(address)
    if answer.streaming:
        list(answer.streaming_content)  # the client closes a file when it is read to its end
    return answer


def plain(answer: Any) -> str:
    """The text of an answer without what differs from one request to the next."""
    text = re.sub(r"/p/[\w-]+/", "", answer.content.decode())
    return re.sub(r"\b[A-Za-z0-9]{64}\b", "", text)


def test_the_sweep_sees_the_project_pages():
    assert len(PROJECT_ROUTES) > 10 and "p/<slug:slug>/project/people/" in PROJECT_ROUTES
    assert [route for route in [*PROJECT_ROUTES, *OTHER_ROUTES] if "^" in route] == []  # path(), never a pattern


def test_an_outsider_learns_nothing(furnished: Project, outsider: User):
    client, faults = builders.signed_in(outsider), []
    for address in (one for route in PROJECT_ROUTES for one in addresses(route, furnished)):
        made_up = address.replace(furnished.slug, "no-such-build")
        codes = set()
        for ask in (client.get, client.post):
            real, none = asked(ask, address), asked(ask, made_up)
            codes |= {real.status_code, none.status_code}
            if real.status_code != none.status_code or plain(real) != plain(none):
                faults.append(f"{address} differs from a project that does not exist")
        if codes not in ({404}, {404, 405}):  # 405 where an address takes one kind of request, whoever asks
            faults.append(f"{address} answers {codes}")
    assert faults == []


def test_a_stranger_is_led_to_sign_in(furnished: Project):
    answers = {
        route: asked(ask, filled(route, slug=furnished.slug))
        for route in PROJECT_ROUTES
        for ask in (Client().get, Client().post)
    }
    assert [route for route, answer in answers.items() if not led_to_sign_in(answer)] == []


def led_to_sign_in(answer: Any) -> bool:
    return answer.status_code == 302 and answer["Location"].startswith("/sign-in/?next=")


@pytest.mark.django_db
def test_other_pages_ask_who_is_there():
    answers = {
        route: asked(Client().get, filled(route, slug="nothing")) for route in OTHER_ROUTES if route not in PUBLIC
    }
    closed = {route for route, answer in answers.items() if led_to_sign_in(answer) or answer.status_code == 404}
    assert answers and set(answers) - closed == set()


def rows_of_everything() -> dict[str, int]:
    models = [
        model
        for model in apps.get_models()
        if model._meta.app_label in {"projects", "budget", "schedule", "decisions", "reports"}
    ]
    return {model.__name__: model._default_manager.count() for model in models}


@pytest.mark.parametrize("role", ["viewer", "bookkeeper"])
def test_who_may_only_read_changes_nothing(role: str, furnished: Project, request: pytest.FixtureRequest):
    client = builders.signed_in(request.getfixturevalue(role))
    asked(client.get, f"/p/{furnished.slug}/money/")  # the day's own settling is done before we count
    before = rows_of_everything()
    own = [route for route in PROJECT_ROUTES if role == "viewer" or not route.startswith(BOOKED)]
    sent = {address: asked(client.post, address) for route in own for address in addresses(route, furnished)}
    assert {
        address: answer.status_code
        for address, answer in sent.items()
        if answer.status_code not in {200, 403, 404, 405}
    } == {}
    assert rows_of_everything() == before


@pytest.mark.parametrize("role", ["lead", "owner", "bookkeeper", "viewer"])
def test_a_member_never_meets_a_crash(role: str, furnished: Project, request: pytest.FixtureRequest):
    client = builders.signed_in(request.getfixturevalue(role))
    got = {address: asked(client.get, address) for route in PROJECT_ROUTES for address in addresses(route, furnished)}
    codes = {200, 302, 403, 404, 405}
    assert {address: answer.status_code for address, answer in got.items() if answer.status_code not in codes} == {}
    assert any(answer.status_code == 200 for answer in got.values())


def test_an_empty_form_never_meets_a_crash(furnished: Project, lead: User):
    client = builders.signed_in(lead)
    sent = {address: asked(client.post, address) for route in PROJECT_ROUTES for address in addresses(route, furnished)}
    codes = {200, 302, 400, 403, 404, 405, 422}
    assert {address: answer.status_code for address, answer in sent.items() if answer.status_code not in codes} == {}
