"""Who may do what, tried at the browser: an owner, an outsider, a stranger, and two people at the same line."""

import re

import pytest
from playwright.sync_api import Page, expect

from budget.models import LineItem, Quote
from decisions.models import Decision
from projects.models import Project, Role
from tests import builders
from tests.journeys import keeping
from tests.journeys.watching import Person

pytestmark = [pytest.mark.journey, pytest.mark.django_db(transaction=True)]
MADE_UP = "no-such-build"


def line(demo: Project, code: str = "L0901") -> LineItem:
    return LineItem.objects.get(project=demo, code=code)


def pages_of(demo: Project) -> list[str]:
    """A page of each kind, with something behind it."""
    quote = Quote.objects.filter(project=demo, state=Quote.State.OPEN)[0].pk
    decision = Decision.objects.get(project=demo, code="D06").pk
    record = Decision.objects.get(project=demo, code="D03").records.get().pk
    wanted = line(demo)
    return [f"/p/{demo.slug}/{rest}" for rest in (
        "", "money/", f"money/lines/{wanted.pk}/", f"money/lines/{wanted.pk}/quotes/", f"money/quotes/{quote}/",
        f"money/trades/{wanted.trade_id}/quotes/", "money/vendors/", "choices/", f"choices/{decision}/",
        f"choices/records/{record}/", "owners/", "project/", "project/people/", "project/rates/", "project/trail/",
    )]  # fmt: skip


def deeds_of_the_lead(demo: Project) -> list[str]:
    """Addresses that take what only a lead may send."""
    quote = Quote.objects.filter(project=demo, state=Quote.State.OPEN)[0].pk
    decision = Decision.objects.get(project=demo, code="D06")
    option, wanted = decision.options.all()[0].pk, line(demo).pk
    return [f"/p/{demo.slug}/{rest}" for rest in (
        "money/trades/new/", "money/lines/new/", f"money/lines/{wanted}/edit/", f"money/lines/{wanted}/scope/",
        f"money/lines/{wanted}/estimate/", f"money/lines/{wanted}/forecast/", f"money/lines/{wanted}/original/",
        "money/quotes/new/", f"money/quotes/{quote}/withdraw/", f"money/quotes/{quote}/renew/",
        f"money/quotes/{quote}/lines/{wanted}/prefer/", "choices/new/", f"choices/{decision.pk}/edit/",
        f"choices/{decision.pk}/checks/", f"choices/{decision.pk}/options/new/",
        f"choices/{decision.pk}/options/{option}/", f"choices/{decision.pk}/options/{option}/take-off/",
        f"choices/{decision.pk}/record/", f"choices/{decision.pk}/reopen/", "owners/issue/",
        "project/people/invite/", "project/people/limits/",
    )]  # fmt: skip


def forms_on(page: Page) -> list[str]:
    """What the sheet can send, apart from the sign-out of the head."""
    return page.locator("main form[method=post]").evaluate_all("all => all.map(form => form.action)")


def send(page: Page, address: str) -> int:
    """Send a form to an address as a browser of this person would. Returns: the status of the answer."""
    token = next(one["value"] for one in page.context.cookies() if one["name"] == "csrftoken")
    answer = page.request.post(address, form={"csrfmiddlewaretoken": token, "reason": "because"}, max_redirects=0)
    return answer.status


def test_an_owner_sees_everything_and_edits_nothing(demo: Project, enter):
    person = enter(keeping.person("owner"))
    for address in pages_of(demo):
        page = person.go(address)
        expect(page.get_by_role("heading", level=1)).not_to_be_empty()
        assert (address, forms_on(page)) == (address, [])
        expect(
            page.get_by_role("link", name=re.compile("^(Log a quote|Edit|Add a|New decision|Record)"))
        ).to_have_count(0)
    before = keeping.counts()
    assert {
        address: status for address in deeds_of_the_lead(demo) if (status := send(person.page, address)) != 403
    } == {}
    assert keeping.counts() == before


def test_an_owner_may_approve_what_waits_and_only_that(demo: Project, enter):
    lead, owner = enter(keeping.person("lead")), enter(keeping.person("owner"))
    decision = Decision.objects.get(project=demo, code="D09")
    page = lead.go(f"/p/{demo.slug}/choices/{decision.pk}/record/?option={decision.options.get(key='C').pk}")
    page.get_by_label("Why this one").fill("galvanised lasts in the wet")
    for check in page.get_by_label(re.compile("^Overrule")).all():
        check.fill("the maker has shown it")
    lead.follow(page.get_by_role("button", name="See what it does"))
    lead.follow(page.get_by_role("button", name="Record it for an owner"))
    page.get_by_role("main").get_by_text("Nothing has moved yet").wait_for()
    assert send(page, f"/p/{demo.slug}/choices/{decision.pk}/answer/") == 403  # a lead does not answer themselves

    page = owner.go(f"/p/{demo.slug}/owners/")
    expect(page.get_by_role("main")).to_contain_text(decision.title)
    owner.follow(page.get_by_role("link", name=f"Look and answer {decision.code}"))
    expect(page.get_by_role("heading", level=1)).to_contain_text("waits for an owner")
    assert all(action.endswith("/answer/") for action in forms_on(page)) and len(forms_on(page)) == 1
    owner.follow(page.get_by_role("button", name="Approve", exact=True))
    decision.refresh_from_db()
    assert decision.state == Decision.State.DECIDED


def test_an_outsider_cannot_tell_the_build_from_one_that_is_not_there(demo: Project, enter):
    person = enter(keeping.outsider())
    with person.expecting(404):
        for address in [*pages_of(demo), *deeds_of_the_lead(demo)]:
            real = person.page.request.get(address)
            none = person.page.request.get(address.replace(demo.slug, MADE_UP))
            assert real.status == none.status and real.status in {404, 405}, (
                address
            )  # 405: takes a form only, whoever asks
            assert plain(real.text(), demo.slug) == plain(none.text(), MADE_UP)
        page = person.go(f"/p/{demo.slug}/money/")
        expect(page.get_by_role("heading", level=1)).to_have_text("There is no such page, or it is not yours to see.")
        expect(page.locator("body")).not_to_contain_text(demo.name)


def plain(text: str, slug: str) -> str:
    """A page without its address and its token, which differ from one request to the next."""
    return re.sub(r"\b[A-Za-z0-9]{64}\b", "", text.replace(slug, ""))


def test_a_stranger_is_led_to_sign_in_and_back_out(demo: Project, enter):
    person = enter(size="desk")
    for address in (f"/p/{demo.slug}/", f"/p/{demo.slug}/owners/", f"/p/{demo.slug}/choices/"):
        page = person.go(address)
        expect(page).to_have_url(re.compile(f"/sign-in/\\?next={re.escape(address)}$"))
        expect(page.locator("body")).not_to_contain_text(demo.name)
    for address in pages_of(demo):
        answer = page.request.get(address, max_redirects=0)
        assert (answer.status, answer.headers["location"]) == (302, f"/sign-in/?next={address}")


def test_who_signs_out_is_a_stranger(demo: Project, enter):
    person = enter(keeping.person("bookkeeper"))
    page = person.go(f"/p/{demo.slug}/")
    page.locator("summary", has_text="Bookkeeper").click()
    person.follow(page.get_by_role("button", name="Sign out"))
    page = person.go(f"/p/{demo.slug}/money/")
    expect(page).to_have_url(re.compile("/sign-in/"))


# --- Two people at the same line ---------------------------------------------------------------------------------


def edit_the_line(person: Person, demo: Project) -> Page:
    page = person.go(f"/p/{demo.slug}/money/lines/{line(demo).pk}/")
    person.follow(page.get_by_role("link", name="Edit the line"))
    return page


def test_the_second_to_save_a_line_sees_what_stands_and_then_saves_knowingly(demo: Project, enter):
    colleague = builders.member(demo, builders.person("deputy", "Deputy lead"), Role.LEAD).user
    first, second = enter(keeping.person("lead"), "desk"), enter(colleague)
    one, other = edit_the_line(first, demo), edit_the_line(second, demo)
    one.get_by_label("Description").fill("Wet-floor coating, slip tested")
    first.follow(one.get_by_role("button", name="Save the line"))
    expect(one.get_by_role("status")).to_contain_text("Saved L0901 Wet-floor coating, slip tested.")

    other.get_by_label("Description").fill("Wet-floor coating, two coats")
    with second.expecting(422):
        second.follow(other.get_by_role("button", name="Save the line"))
    expect(other.locator("main")).to_contain_text("Somebody else saved this line while you were editing")
    expect(other.locator("main")).to_contain_text("now stands Wet-floor coating, slip tested")
    expect(other.get_by_label("Description")).to_have_value("Wet-floor coating, two coats")
    assert line(demo).description == "Wet-floor coating, slip tested"
    second.follow(other.get_by_role("button", name="Save the line"))
    expect(other.get_by_role("status")).to_contain_text("Saved L0901 Wet-floor coating, two coats")
    assert line(demo).description == "Wet-floor coating, two coats"
