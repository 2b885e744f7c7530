"""The gallery: for the machine of whoever works on the look, and nowhere else."""

import pytest
from django.test import Client

from projects.models import User

pytestmark = pytest.mark.django_db


@pytest.fixture
def signed_in(client: Client) -> Client:
    client.force_login(User.objects.create_user("ana"))
    return client


def test_every_piece_is_on_the_page(signed_in: Client):
    page = signed_in.get("/gallery/").content.decode()
    pieces = (
        "figure__amount",
        "notice--over",
        "empty__title",
        "task--wait",
        "chips",
        "data-rows",
        "data-chart",
        "facts",
    )
    assert [piece for piece in pieces if piece not in page] == []


def test_it_is_not_there_in_production(signed_in: Client, settings):
    settings.LOCAL = False
    assert signed_in.get("/gallery/").status_code == 404


def test_a_page_that_is_not_there_looks_like_the_others(signed_in: Client):
    response = signed_in.get("/nowhere/")
    assert response.status_code == 404 and "not yours to see" in response.content.decode()
