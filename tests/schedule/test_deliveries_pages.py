"""The pages of deliveries, tried by the cast: what they say, what a lead may do, and who may not."""

from datetime import date

import pytest
from django.test import Client
from django.urls import reverse

from projects.models import Project, User
from schedule.models import Activity, Delivery
from schedule.services.deliveries import StageDraft
from tests import builders
from tests.builders import TODAY, signed_in

DEEDS = ("edit_delivery", "promised_day", "remove_delivery", "put_back_delivery")


def at(name: str, project: Project, *args: object) -> str:
    return reverse(f"schedule:{name}", args=[project.slug, *args])


def words(answer) -> str:
    return " ".join(answer.content.decode().split())


@pytest.fixture
def project(project: Project) -> Project:
    """The chiller takes ten working days from Fri 29 Jan, its install two; the opening is to be on Fri 26 Feb."""
    project.opens_on = date(2027, 2, 26)
    project.save(update_fields=["opens_on"])
    builders.calendar(project)
    builders.activity(project, "A01", 10, kind="delivery", name="Chiller made")
    builders.activity(project, "A02", 2, after=["A01"], name="Install chiller", trade="Plumbing")
    return project


@pytest.fixture
def chiller(project: Project) -> Delivery:
    stages = (StageDraft("ordered"), StageDraft("customs", paper="origin statement"), StageDraft("on_site"))
    return builders.delivery(project, stages=stages)


@pytest.fixture
def client(lead: User) -> Client:
    return signed_in(lead)


def test_an_empty_list_says_what_belongs_there(client: Client, project: Project):
    seen = words(client.get(at("deliveries", project)))
    assert "Nothing is on its way yet." in seen and "Add the first delivery" in seen


def test_the_sentence_says_which_order_is_next(client: Client, project: Project, chiller: Delivery):
    seen = words(client.get(at("deliveries", project)))
    assert "Next to order is Chiller: by Fri 29 Jan 2027 (today), or work waits; " in seen
    assert "by Thu 11 Feb 2027 (13 days left), or the opening moves." in seen
    assert "papers missing: origin statement" in seen


def test_what_comes_too_late_for_the_opening_is_said(client: Client, project: Project):
    """Thirty working days from 29 Jan end on Thu 11 Mar, 13 days after the opening was to be."""
    builders.activity(project, "A03", 30, kind="delivery")
    builders.delivery(project, "A03", "Tank", ordered_on=TODAY)
    seen = words(client.get(at("deliveries", project)))
    assert "Tank comes 13 days later than the opening allows." in seen and "13 days late for the opening" in seen


def test_a_page_says_what_waiting_costs(client: Client, project: Project):
    closures = [(date(2027, 2, 8), date(2027, 2, 19), "works holiday")]
    builders.calendar(project, "Maker", "12345", closures=closures)
    made = builders.delivery(project, calendar="Maker", lead_days=5)
    seen = words(client.get(at("delivery", project, made.pk)))
    assert "The works are closed from Mon 8 Feb 2027 to Fri 19 Feb 2027 (12 days)." in seen
    assert "Order by Mon 1 Feb 2027: ordered one day later, it is begun 1 day later and on site 17 days later." in seen
    assert "5 working days by the calendar “Maker”" in seen


def test_a_delivery_is_added_from_the_form(client: Client, project: Project):
    activity = project.activities.get(code="A01")
    sent = {
        "activity": activity.pk,
        "item": "Chiller",
        "maker": "Frostholm",
        "lead_days": "8",
        "due_sent": "2027-02-05",
    }
    answer = client.post(at("new_delivery", project), sent, follow=True)
    assert "Chiller is on the list of deliveries." in words(answer)
    row = Delivery.objects.get()
    assert (row.activity, row.maker, row.lead_days) == (activity, "Frostholm", 8)
    assert [(one.kind, str(one.due_on)) for one in row.stages.all()] == [
        ("ordered", "None"), ("sent", "2027-02-05"), ("on_site", "None"),
    ]  # fmt: skip


def test_a_fault_keeps_what_was_typed(client: Client, project: Project):
    sent = {"activity": project.activities.get(code="A01").pk, "item": "Chiller", "ordered_on": "2027-02-20"}
    answer = client.post(at("new_delivery", project), sent)
    assert answer.status_code == 422 and "That day has not come yet" in words(answer)
    assert 'value="Chiller"' in words(answer) and not Delivery.objects.exists()


def test_changing_keeps_what_was_reported(client: Client, project: Project, chiller: Delivery):
    client.post(at("delivery_stage", project, chiller.pk, "customs"), {"done_on": "2027-01-29", "paper_there": "on"})
    sent = {"item": "Cold chiller", "version": Delivery.objects.get().version, "paper_customs": "origin statement"}
    client.post(at("edit_delivery", project, chiller.pk), sent)
    customs = Delivery.objects.get().stages.get(kind="customs")
    assert Delivery.objects.get().item == "Cold chiller"
    assert (customs.done_on, customs.paper_there) == (TODAY, True)


def test_two_who_change_it_see_each_others_words(client: Client, project: Project, chiller: Delivery):
    client.post(at("edit_delivery", project, chiller.pk), {"item": "First", "version": 1})
    answer = client.post(at("edit_delivery", project, chiller.pk), {"item": "Second", "version": 1})
    assert answer.status_code == 422 and "First" in words(answer)
    assert Delivery.objects.get().item == "First"


def test_on_site_finishes_the_activity_and_is_undone(client: Client, project: Project, chiller: Delivery):
    sent = {"done_on": "2027-01-29", "finish": "on"}
    answer = client.post(at("delivery_stage", project, chiller.pk, "on_site"), sent, follow=True)
    assert "Chiller: on site since Fri 29 Jan 2027." in words(answer)
    assert Activity.objects.get(code="A01").finished_on == TODAY
    client.post(at("undo_stage", project, chiller.pk, "on_site"))
    assert Activity.objects.get(code="A01").finished_on is None


def test_the_promised_day_says_what_it_moves_and_asks_why(client: Client, project: Project):
    made = builders.delivery(project, promised_on=date(2027, 2, 18))
    assert "promised for Thu 18 Feb 2027, 7 days later than the plan" in words(
        client.get(at("delivery", project, made.pk))
    )
    seen = words(client.get(at("promised_day", project, made.pk)))
    assert "The opening moves from Mon 15 Feb 2027 to Mon 22 Feb 2027 (+7 days)." in seen
    assert client.post(at("promised_day", project, made.pk), {"reason": ""}).status_code == 422
    client.post(at("promised_day", project, made.pk), {"reason": "A part is late"})
    assert Activity.objects.get(code="A01").days == 15


def test_a_thing_is_taken_off_and_put_back(client: Client, project: Project, chiller: Delivery):
    client.post(at("remove_delivery", project, chiller.pk))
    assert client.get(at("delivery", project, chiller.pk)).status_code == 404
    client.post(at("put_back_delivery", project, chiller.pk))
    assert client.get(at("delivery", project, chiller.pk)).status_code == 200


def test_a_day_to_order_by_that_cannot_be_told_is_said(client: Client, project: Project):
    builders.calendar(project, "Maker", "1", region="GB-ENG")
    made = builders.delivery(project, lead_days=3_650, calendar="Maker")
    assert "No day to order by can be told" in words(client.get(at("delivery", project, made.pk)))
    assert client.get(at("deliveries", project)).status_code == 200


def test_a_stage_that_is_none_is_not_found(client: Client, project: Project, chiller: Delivery):
    assert client.get(at("delivery_stage", project, chiller.pk, "flown")).status_code == 404


@pytest.mark.parametrize("who", ["owner", "bookkeeper", "viewer"])
def test_others_read_and_change_nothing(project: Project, chiller: Delivery, who: str, request: pytest.FixtureRequest):
    client = signed_in(request.getfixturevalue(who))
    for name, args in (("deliveries", []), ("delivery", [chiller.pk])):
        seen = client.get(at(name, project, *args))
        assert seen.status_code == 200 and "Change it" not in words(seen) and "Add a delivery" not in words(seen)
    for name in DEEDS:
        assert client.post(at(name, project, chiller.pk), {"item": "x", "reason": "x"}).status_code == 403
    assert client.get(at("new_delivery", project)).status_code == 403
    assert client.post(at("delivery_stage", project, chiller.pk, "ordered")).status_code == 403


def test_an_outsider_finds_nothing(project: Project, chiller: Delivery, outsider: User):
    client = signed_in(outsider)
    elsewhere = Project.objects.exclude(pk=project.pk).get()
    assert client.get(at("delivery", project, chiller.pk)).status_code == 404
    for name in ("delivery", *DEEDS):
        assert client.get(at(name, elsewhere, chiller.pk)).status_code in {404, 405}
        assert client.post(at(name, elsewhere, chiller.pk)).status_code in {404, 405}


def test_what_is_typed_is_shown_as_typed(client: Client, project: Project):
    made = builders.delivery(project, item="<b>Chiller</b>", maker="<script>x</script>")
    for page in (at("deliveries", project), at("delivery", project, made.pk)):
        assert (
            "<script>x" not in client.get(page).content.decode()
            and "&lt;b&gt;Chiller" in client.get(page).content.decode()
        )
