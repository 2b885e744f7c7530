"""What every answer carries, so that a browser guards the page too."""

import pytest

POLICY = {
    "default-src 'none'",
    "script-src 'self'",
    "style-src 'self'",
    "style-src-attr 'unsafe-inline'",
    "img-src 'self' data: blob:",
    "font-src 'self'",
    "connect-src 'self'",
    "base-uri 'none'",
    "form-action 'self'",
    "frame-ancestors 'none'",
}


@pytest.mark.django_db
def test_every_page_carries_the_policy(client):
    answer = client.get("/sign-in/")
    assert set(answer["Content-Security-Policy"].split("; ")) == POLICY


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("header", "value"),
    [
        ("X-Content-Type-Options", "nosniff"),
        ("Referrer-Policy", "same-origin"),
        ("Cross-Origin-Opener-Policy", "same-origin"),
        ("X-Frame-Options", "DENY"),
    ],
)
def test_every_page_carries(client, header: str, value: str):
    assert client.get("/sign-in/")[header] == value


@pytest.mark.urls("tests.house.bare_urls")
@pytest.mark.django_db
def test_a_view_that_forgot_to_ask_is_closed_to_strangers(client):
    assert client.get("/forgotten/").headers["Location"] == "/sign-in/?next=/forgotten/"


@pytest.mark.urls("tests.house.bare_urls")
@pytest.mark.django_db
def test_a_swap_leads_the_whole_page_to_sign_in_and_back(client):
    page = {"HX-Request": "true", "HX-Current-URL": "http://testserver/p/slab/money/?trade=3"}
    answer = client.get("/forgotten/", headers=page)
    assert answer.headers["HX-Redirect"] == "/sign-in/?next=%2Fp%2Fslab%2Fmoney%2F%3Ftrade%3D3"
    assert answer.content == b""


@pytest.mark.urls("tests.house.bare_urls")
@pytest.mark.django_db
def test_a_swap_does_not_lead_to_another_site(client):
    page = {"HX-Request": "true", "HX-Current-URL": "https://elsewhere.example/trap/"}
    assert client.get("/forgotten/", headers=page).headers["HX-Redirect"] == "/sign-in/?next=%2F"
