"""A pour that may not go on yet: on site with the phone, the missing proofs are shown, the roles sign, and it may."""

import pytest
from playwright.sync_api import Page, expect

from projects.models import Project
from schedule.models import HoldPoint, Proof
from tests.journeys import keeping, pictures
from tests.journeys.watching import Person

pytestmark = [pytest.mark.journey, pytest.mark.django_db(transaction=True)]
PHOTOGRAPH = {"name": "gauge at seven.png", "mimeType": "image/png", "buffer": pictures.png()}


def held(demo: Project, code: str) -> HoldPoint:
    return HoldPoint.objects.get(project=demo, code=code)


def open_hold(person: Person, demo: Project, code: str) -> Page:
    return person.go(f"/p/{demo.slug}/sequence/holds/{held(demo, code).pk}/")


def show(person: Person, *, value: str = "", photograph: bool = False) -> Page:
    """Show the first check that is not shown yet: two taps, and what was found."""
    page = person.follow(person.page.get_by_role("link", name="Show it").first)
    if photograph:
        page.get_by_label("Photograph or document").set_input_files(PHOTOGRAPH)
    else:
        page.get_by_label("Note, or where the paper is kept").fill("site file")
    if value:
        page.locator("#id_value").fill(value)
    page.get_by_label("it passes").check()
    return person.follow(page.get_by_role("button", name="Save what was found"))


def sign(person: Person, name: str) -> Page:
    page = person.follow(person.page.locator("#signers").get_by_role("link", name="Sign").first)
    page.get_by_label("Name").fill(name)
    return person.follow(page.get_by_role("button", name="Sign"))


def test_the_pressure_kept_through_the_pour_is_shown_signed_and_released(demo: Project, enter):
    """Of the demo: H06 asks for two proofs and the site lead; covering wrong costs 24,000."""
    person = enter(keeping.person("lead"))
    page = person.go(f"/p/{demo.slug}/sequence/holds/")
    expect(page.get_by_role("heading", level=1)).to_contain_text(
        "Pour bay 2 on Wed 3 Feb 2027 may not go on yet: 6 proofs and 3 signatures are missing; covering it wrong costs £41,000."
    )
    open_hold(person, demo, "H06")
    show(person, photograph=True)
    picture = page.get_by_role("img", name=PHOTOGRAPH["name"])
    picture.scroll_into_view_if_needed()
    expect(picture).to_have_js_property("naturalWidth", 8)
    show(person, value="two sets")
    sign(person, "Sam Site")
    expect(page.get_by_role("heading", level=1)).to_have_text("H06 Pressure kept through pour, bay 2 is released.")
    person.follow(page.get_by_role("button", name="Undo"))
    expect(page.get_by_role("heading", level=1)).to_contain_text("is open: 1 signature is missing")


def test_without_script_a_proof_that_fails_is_told_on_the_list(demo: Project, enter):
    person = enter(keeping.person("lead"), script=False)
    open_hold(person, demo, "H05")
    page = person.follow(person.page.get_by_role("link", name="Show it").first)
    page.locator("#id_value").fill("torn at C17")
    page.get_by_label("it does not").check()
    person.follow(page.get_by_role("button", name="Save what was found"))
    expect(page.get_by_role("heading", level=1)).to_contain_text("H05 Before pour, bay 2 has failed")
    assert not Proof.objects.latest("pk").passes
    person.go(f"/p/{demo.slug}/sequence/holds/")
    expect(page.get_by_text("failed", exact=True).first).to_be_visible()


def test_the_desk_shows_the_list_a_log_the_sheet_and_what_overruling_means(demo: Project, enter):
    person = enter(keeping.person("lead"), "desk")
    hold, logged = held(demo, "H05"), held(demo, "H03")
    for path in (
        "usual/",
        "new/?from=kept",
        f"{hold.pk}/edit/",
        f"{hold.pk}/sheet/",
        f"{hold.pk}/visit/",
        f"{logged.pk}/",
    ):
        person.go(f"/p/{demo.slug}/sequence/holds/{path}")
    expect(person.page.get_by_text("Fell by 0.05 bar in 120 minutes; 0.1 bar is allowed.")).to_be_visible()


def test_in_the_dark_the_list_and_what_overruling_means_can_be_read(demo: Project, enter):
    person = enter(keeping.person("lead"), "desk", scheme="dark")
    hold = held(demo, "H05")
    for path in ("", f"{hold.pk}/", f"{hold.pk}/overrule/{hold.stops.get().pk}/"):
        person.go(f"/p/{demo.slug}/sequence/holds/{path}")
    expect(person.page.get_by_text("If it was covered wrong, it costs £41,000.")).to_be_visible()


def test_an_owner_reads_the_gate_and_takes_the_sheet(demo: Project, enter):
    person = enter(keeping.person("owner"))
    page = open_hold(person, demo, "H05")
    expect(page.get_by_role("link", name="Show it")).to_have_count(0)
    person.follow(page.get_by_role("link", name="The sheet for site"))
    with page.expect_event("response") as answered:
        page.evaluate("fetch(document.querySelector('a[href$=\"sheet.pdf\"]').href)")
    assert answered.value.status == 200 and answered.value.headers["content-type"] == "application/pdf"
