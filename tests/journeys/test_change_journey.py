"""A change on site: written down on the phone while somebody waits, agreed to by an owner, printed to be signed."""

import pytest
from playwright.sync_api import Page, expect

from budget.models import Change, LineItem
from projects.models import Project
from tests.journeys import keeping, pictures
from tests.journeys.watching import Person

pytestmark = [pytest.mark.journey, pytest.mark.django_db(transaction=True)]
PHOTOGRAPH = {"name": "rock with tape.png", "mimeType": "image/png", "buffer": pictures.png()}


def open_the_form(person: Person, demo: Project) -> Page:
    person.go(f"/p/{demo.slug}/money/")
    person.follow(person.page.get_by_role("navigation", name="Money").get_by_role("link", name="Changes"))
    return person.follow(person.page.get_by_role("link", name="Write down a change"))


def fill_in(page: Page, amount: str) -> None:
    """All that has to be entered: where, what, why, how much, and a photograph."""
    page.get_by_label("Line", exact=True).select_option(label="L0201 Foul and surface drain alterations")
    page.get_by_label("What is to be done").fill("Rock under the south corner")
    page.get_by_label("Photograph").set_input_files(PHOTOGRAPH)
    page.get_by_label("unforeseen condition", exact=True).check()
    page.get_by_label("Amount", exact=True).fill(amount)


def save(person: Person) -> Page:
    return person.follow(person.page.get_by_role("button", name="Write it down").last)


def test_a_change_with_a_photograph_is_written_down_in_five_entries_and_money_moves(demo: Project, enter):
    """Expected by hand: the line is let at 16,700; 1,260 that are certain make 17,960."""
    person = enter(keeping.person("lead"))
    page = open_the_form(person, demo)
    expect(page.get_by_role("status").filter(has_text="Your limit is £2,000")).to_be_visible()
    fill_in(page, "1,260")
    expect(page.get_by_text("£1,260 is within your limit of £2,000: you may agree to it at once.")).to_be_visible()
    save(person)
    expect(page.get_by_text("moved from £16,700 to £17,960.")).to_be_visible()
    picture = page.get_by_role("img", name=PHOTOGRAPH["name"])
    picture.scroll_into_view_if_needed()
    expect(picture).to_have_js_property("naturalWidth", 8)
    person.follow(page.get_by_role("link", name="L0201 Foul"))
    expect(page.get_by_role("heading", level=1)).to_contain_text("is likely to cost £17,960")
    assert LineItem.objects.get(project=demo, code="L0201").likely_minor == 1_796_000


def test_an_undo_puts_the_line_back(demo: Project, enter):
    person = enter(keeping.person("lead"))
    page = open_the_form(person, demo)
    fill_in(page, "1,260")
    save(person)
    person.follow(page.get_by_role("button", name="Undo"))
    expect(page.get_by_text("is withdrawn; its line stands as before")).to_be_visible()
    assert LineItem.objects.get(project=demo, code="L0201").likely_minor == 1_670_000


def test_without_script_the_limit_stands_there_and_the_answer_says_who_is_waited_for(demo: Project, enter):
    person = enter(keeping.person("lead"), script=False)
    page = open_the_form(person, demo)
    expect(page.get_by_text("Your limit is £2,000")).to_be_visible()
    fill_in(page, "2,400")
    save(person)
    expect(page.get_by_text("It waits for Owner or Co-owner.")).to_be_visible()
    assert Change.objects.get(project=demo, code="C19").attachments.count() == 1


def test_the_open_piece_of_a_line_is_offered_while_one_types(demo: Project, enter):
    """The valves of L0202 are priced by C09 already; once it is withdrawn the gap is open again and offered."""
    person = enter(keeping.person("lead"))
    valves = Change.objects.get(project=demo, code="C09")
    person.go(f"/p/{demo.slug}/money/changes/{valves.pk}/")
    page = person.follow(person.page.get_by_role("link", name="Withdraw it"))
    person.follow(page.get_by_role("button", name="Withdraw the change"))
    open_the_form(person, demo)
    page.get_by_label("Line", exact=True).select_option(label="L0202 Under-slab circulation pipework, three loops")
    offered = page.get_by_label("the open piece: Isolation valves (£1,260)")
    offered.check()
    person.look()
    expect(offered).to_be_checked()


def test_an_owner_agrees_on_the_phone_and_the_contingency_is_drawn(demo: Project, enter):
    person = enter(keeping.person("owner"))
    before = LineItem.objects.get(project=demo, code="L9901").likely_minor
    person.go(f"/p/{demo.slug}/money/changes/")
    page = person.follow(person.page.get_by_role("link", name="C11 Tank drain moved 300 mm"))
    person.follow(page.get_by_role("link", name="Agree to it"))
    person.follow(page.get_by_role("button", name="Agree to it"))
    expect(page.get_by_text("Agreed to C11 Tank drain moved 300 mm.")).to_be_visible()
    assert before - LineItem.objects.get(project=demo, code="L9901").likely_minor == 210_000


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_desk_shows_the_list_a_change_its_price_and_its_paper(demo: Project, enter, scheme: str):
    person = enter(keeping.person("lead"), "desk", scheme=scheme)
    made = Change.objects.get(project=demo, code="C09")
    for below in ("", "?show=agreed", "new/", f"{made.pk}/", f"{made.pk}/price/", f"{made.pk}/paper/"):
        person.go(f"/p/{demo.slug}/money/changes/{below}")
    expect(person.page.get_by_text("For the vendor: Fennick Drainage")).to_be_visible()
