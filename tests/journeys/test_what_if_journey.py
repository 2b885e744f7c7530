"""A bad call on site: the shell is late. What that does is asked on a phone, kept, and put into the plan once it is certain."""

import pytest
from playwright.sync_api import Locator, Page, expect

from projects.models import Project
from schedule.models import Activity, Question
from schedule.services import plan
from tests.journeys import keeping
from tests.journeys.watching import Person

pytestmark = [pytest.mark.journey, pytest.mark.django_db(transaction=True)]


def opened(person: Person, demo: Project) -> Page:
    person.go(f"/p/{demo.slug}/sequence/")
    return person.follow(person.page.get_by_role("navigation", name="Sequence").get_by_role("link", name="What if"))


def form(page: Page, what: str) -> Locator:
    """The form of one thing that can happen, opened."""
    page.locator("summary", has_text=what).click()
    return page.locator("details[open]", has=page.locator("> summary", has_text=what)).locator("form").last


def ask(person: Person, asked: Locator) -> None:
    person.follow(asked.get_by_role("button", name="Show what happens"))


def test_a_late_shell_is_asked_kept_and_put_into_the_plan_and_taken_back(demo: Project, enter):
    """Expected from the scenario: five days more at customs move the opening by 7 days, at £900 a day, and cost 1,050 besides."""
    person = enter(keeping.person("lead"))
    page = opened(person, demo)
    late = form(page, "Something comes late")
    late.get_by_label("What", exact=True).select_option("A46")
    late.get_by_label("Days late").fill("5")
    ask(person, late)
    title = page.get_by_role("heading", level=1)
    expect(title).to_have_text("The opening moves 7 days to Fri 4 Jun 2027: £6,300 for the days.")
    page.get_by_text("Count in what it costs").click()
    page.get_by_label("What it costs besides the days").fill("1,050")
    person.follow(page.get_by_role("button", name="Count it in"))
    expect(title).to_contain_text("£1,050 besides, £7,350 in all.")
    page.locator("summary", has_text="Keep the question").click()
    page.get_by_label("What is asked").fill("Shell held up")
    person.follow(page.get_by_role("button", name="Keep the question"))
    question = page.get_by_role("listitem").filter(has=page.get_by_role("heading", name="Shell held up"))
    expect(question).to_contain_text("+7 days, Fri 4 Jun 2027 · +£7,350")
    person.follow(question.get_by_role("link", name="Put it into the plan"))
    expect(page.get_by_text("The opening moves from Fri 28 May 2027 to Fri 4 Jun 2027")).to_be_visible()
    page.get_by_label("Why the plan changes").fill("the port has written")
    person.follow(page.get_by_role("button", name="Put it into the plan"))
    assert (Activity.objects.get(code="A46").days, str(demo.plan.finish_on)) == (14, "2027-06-04")
    person.follow(page.get_by_role("button", name="Undo"))
    expect(page.get_by_text("is out of the plan again.")).to_be_visible()
    assert (Activity.objects.get(code="A46").days, Question.objects.get(title="Shell held up").kept_on) == (9, None)
    assert plan.drifted(demo) == {}


def test_without_script_two_things_are_put_together_and_one_is_taken_out_again(demo: Project, enter):
    """Expected from the scenario: the second crew alone opens on the target, 7 days earlier, saves 6,300 and costs 3,400."""
    person = enter(keeping.person("owner"), "desk", script=False)
    page = opened(person, demo)
    crew = form(page, "A second crew")
    crew.get_by_label("Which").select_option("A79")
    crew.get_by_label("Takes so many days then").fill("8")
    crew.get_by_label("What it costs more").fill("3,400")
    ask(person, crew)
    title = page.get_by_role("heading", level=1)
    words = "The opening comes 7 days forward to Fri 21 May 2027: £6,300 saved on the days, and it costs £3,400; £2,900 less in all."
    expect(title).to_have_text(words)
    page.locator("summary", has_text="And if something else happens too").click()
    extra = form(page, "Work an extra day")
    extra.get_by_label("Who").select_option("Crane days, Saturday only")
    extra.get_by_label("Every").select_option("4")
    ask(person, extra)
    expect(page.get_by_text("Crane days, Saturday only: works every Thursday as well", exact=True)).to_be_visible()
    person.follow(page.get_by_role("link", name="take out").last)
    expect(title).to_have_text(words)
    assert page.get_by_text("Keep the question").count() == 0
