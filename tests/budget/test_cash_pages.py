"""The page of cash and its deeds, tried by everybody of the cast; figures worked by hand."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from budget.models import (
    Agreement,
    Arrival,
    FundingReceipt,
    FundingSource,
    LineItem,
    PaymentStage,
    RetentionRelease,
    RetentionStage,
)
from budget.selectors import retained
from budget.services import funding, payments, rates, retention, stages
from projects.models import Attachment, Project, User
from tests import builders
from tests.builders import NOW, TODAY, signed_in

OPENING = date(2027, 5, 21)


def address(name: str, project: Project, *args: int) -> str:
    return reverse(f"budget:{name}", args=[project.slug, *args])


@pytest.fixture
def panels(project: Project, lead: User) -> LineItem:
    """20,000 € of goods at 0.86 with a deposit of 40 % and 5 % held: 8,000 € billed, 4,000 € of it paid."""
    project.opens_on = OPENING
    project.save(update_fields=["opens_on"])
    line = builders.line(project, budget=20_000)
    rate = Decimal("0.86")
    builders.let(
        line, 20_000, vendor="Verralis", currency="EUR", rate=rate, deposit_percent=Decimal(40), retention=5
    )  # fmt: skip
    told = {"vendor": "Verralis", "currency": "EUR", "rate": rate, "retention": 400}
    entered = builders.approved(line, 8_000, due_on=date(2027, 2, 12), **told)
    payments.pay(entered, amount_quoted_minor=4_000_00, rate=rate, paid_on=TODAY, by=lead, now=NOW, today=TODAY)
    return line


def agreement_of(line: LineItem) -> Agreement:
    return line.agreement_lines.get().agreement


@pytest.fixture
def loan(project: Project, lead: User) -> FundingSource:
    return funding.add_source(project, name="Loan", amount_minor=30_000_00, by=lead, now=NOW, today=TODAY)


def read(client: Client, url: str) -> str:
    answer = client.get(url)
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


# --- who may ----------------------------------------------------------------------------------------------------

RELEASE = {"amount": "100", "released_on": TODAY.isoformat()}
STAGES = {
    "rows-TOTAL_FORMS": "2", "rows-INITIAL_FORMS": "0", "rows-0-name": "Order", "rows-0-kind": "deposit",
    "rows-0-share_percent": "40", "rows-0-due_on": "2027-02-05", "rows-1-name": "Delivery", "rows-1-kind": "delivery",
    "rows-1-share_percent": "60",
}  # fmt: skip
#: name of the address -> (what is sent, the roles that may)
LEAD, BOOKS = {"lead"}, {"lead", "bookkeeper"}
DEEDS: dict[str, tuple[dict[str, str], set[str]]] = {
    "release": (RELEASE, BOOKS),
    "retention_stages": (STAGES, LEAD),
    "payment_stages": (STAGES, LEAD),
    "arrive": ({"arrived_on": TODAY.isoformat()}, LEAD),
    "add_source": ({"name": "Grant", "amount": "1,000"}, LEAD),
    "receive": ({"amount": "1,000", "received_on": TODAY.isoformat()}, BOOKS),
    "edit_source": ({"name": "Bank", "amount": "40,000", "version": "1"}, LEAD),
    "remove_source": ({}, LEAD),
}
TABLES = (RetentionRelease, RetentionStage, PaymentStage, Arrival, FundingSource, FundingReceipt)


def place(name: str, line: LineItem, source: FundingSource) -> str:
    key = {"add_source": [], "receive": [], "edit_source": [source.pk], "remove_source": [source.pk]}
    return address(name, line.project, *key.get(name, [agreement_of(line).pk]))


def rows() -> list[Any]:
    return [list(model.objects.order_by("pk").values_list()) for model in TABLES]


@pytest.mark.parametrize("name", DEEDS)
@pytest.mark.parametrize("role", ["lead", "owner", "bookkeeper", "viewer"])
def test_a_deed_is_done_by_its_roles_alone(
    name: str, role: str, panels: LineItem, loan: FundingSource, request: pytest.FixtureRequest
):
    form, roles = DEEDS[name]
    client, before = signed_in(request.getfixturevalue(role)), rows()
    answer = client.post(place(name, panels, loan), form | ({"source": str(loan.pk)} if name == "receive" else {}))
    assert answer.status_code == (302 if role in roles else 403)
    assert (rows() != before) == (role in roles)


@pytest.mark.parametrize("role", ["lead", "owner", "bookkeeper", "viewer"])
def test_every_member_reads_the_page_with_the_links_of_the_role(
    role: str, panels: LineItem, loan: FundingSource, request: pytest.FixtureRequest
):
    text = read(signed_in(request.getfixturevalue(role)), address("cash", panels.project))
    assert ("It has arrived" in text) == (role == "lead")
    assert (">Release<" in text) == (">Money came in<" in text) == (role in {"lead", "bookkeeper"})


def test_an_outsider_learns_nothing(panels: LineItem, loan: FundingSource, outsider: User):
    client, before = signed_in(outsider), rows()
    assert client.get(address("cash", panels.project)).status_code == 404
    for name, (form, _roles) in DEEDS.items():
        assert client.post(place(name, panels, loan), form).status_code == 404
    assert rows() == before


def test_rows_of_another_project_are_not_found_through_ones_own(panels: LineItem, loan: FundingSource, outsider: User):
    own = outsider.memberships.get().project
    client, before = signed_in(outsider), rows()
    row = funding.receive(loan, amount_minor=1, received_on=TODAY, by=outsider, now=NOW, today=TODAY)
    before = rows()
    for name, key in (
        ("release", agreement_of(panels).pk), ("payment_stages", agreement_of(panels).pk), ("arrive", agreement_of(panels).pk),
        ("edit_source", loan.pk), ("remove_source", loan.pk), ("undo_receipt", row.pk), ("take_back_receipt", row.pk),
    ):  # fmt: skip
        assert client.post(address(name, own, key), {"reason": "mine now"}).status_code == 404
    sent = {"source": str(loan.pk), "amount": "1", "received_on": TODAY.isoformat()}
    assert client.post(address("receive", own), sent).status_code == 422
    assert rows() == before


# --- what the page says -----------------------------------------------------------------------------------------


def test_the_page_opens_with_what_is_due_and_how_long_the_money_lasts(
    panels: LineItem, loan: FundingSource, lead: User
):
    """Open 3,600 € at 0.86 = 3,096; 344 held, half of it in May; 10,320 unbilled; 4,000 in hand less 3,440 paid."""
    funding.receive(loan, amount_minor=4_000_00, received_on=TODAY, by=lead, now=NOW, today=TODAY)
    text = read(signed_in(lead), address("cash", panels.project))
    words = (
        "£3,096 is approved and unpaid; £3,096 falls due in eight weeks; the money in hand lasts into February 2027."
    )
    assert words in text
    assert "£344 is held back" in text and "£3,440 is paid for goods that are not on site" in text
    assert "£10,320 at today’s rates is agreed in other currencies" in text


def test_tax_is_said_to_be_with_or_without(panels: LineItem, lead: User):
    client, url = signed_in(lead), address("cash", panels.project)
    assert "Without the tax that comes back." in read(client, url)
    Project.objects.filter(pk=panels.project.pk).update(tax_recovered=False)
    assert "With tax, for it does not come back." in read(client, url)


def test_an_empty_project_says_what_belongs_here(project: Project, lead: User):
    text = read(signed_in(lead), address("cash", project))
    for words in ("There is nothing to pay yet.", "Nothing is held back", "Nobody has promised money yet."):
        assert words in text


def test_too_little_money_is_said(panels: LineItem, loan: FundingSource, lead: User):
    """The likely final is 17,200; 10,000 is promised."""
    funding.edit_source(loan, name="Loan", amount_minor=10_000_00, by=lead, now=NOW, today=TODAY)
    assert "£7,200 more is needed than anybody has promised." in read(signed_in(lead), address("cash", panels.project))


def test_a_missing_rate_of_today_is_pointed_out_until_it_is_there(panels: LineItem, lead: User):
    client, url = signed_in(lead), address("cash", panels.project)
    assert "No rate of today is set for EUR" in read(client, url)
    given = {"currency": "EUR", "rate": Decimal("0.9"), "rated_on": TODAY}
    rates.set_today(panels.project, by=lead, now=NOW, today=TODAY, **given)
    text = read(client, url)
    assert "No rate of today" not in text and "Rates have made it £480 dearer" in text  # 12,000 € × 0.04


def test_retention_that_no_agreement_explains_has_no_deed(project: Project, lead: User):
    builders.approved(builders.line(project), 1_000, vendor="Stranger", retention=50)
    text = read(signed_in(lead), address("cash", project))
    assert "no agreement with this vendor explains it" in text and ">Release<" not in text


def test_the_queries_of_the_page_do_not_grow(panels: LineItem, lead: User, django_assert_max_num_queries):
    for number in range(2, 6):
        line = builders.line(panels.project, f"L010{number}", budget=20_000)
        builders.let(line, 20_000, vendor=f"Vendor {number}", retention=5, deposit_percent=Decimal(10))
        builders.approved(line, 1_000, vendor=f"Vendor {number}", retention=50)
    client = signed_in(lead)
    with django_assert_max_num_queries(36):
        read(client, address("cash", panels.project))


# --- the deeds --------------------------------------------------------------------------------------------------


def undo_of(text: str) -> str:
    """The address of the button that takes back what was just done."""
    return text.partition('class="said')[2].partition('action="')[2].partition('"')[0]


@pytest.mark.parametrize(
    ("name", "model"), [("release", RetentionRelease), ("arrive", Arrival), ("receive", FundingReceipt)]
)
def test_a_deed_is_undone_at_once(name: str, model: Any, panels: LineItem, loan: FundingSource, lead: User):
    client, form = signed_in(lead), DEEDS[name][0] | {"source": str(loan.pk)}
    text = client.post(place(name, panels, loan), form, follow=True).content.decode()
    assert client.post(undo_of(text)).status_code == 302
    assert model.objects.count() == 2 and model.objects.exclude(reverses=None).count() == 1
    again = client.post(undo_of(text), follow=True).content.decode()
    assert "taken back already" in again and model.objects.count() == 2


def test_a_source_is_undone_and_put_back(project: Project, lead: User):
    client = signed_in(lead)
    text = client.post(address("add_source", project), {"name": "Grant", "amount": "5"}, follow=True).content.decode()
    text = client.post(undo_of(text), follow=True).content.decode()
    assert FundingSource.objects.get().removed_on == TODAY
    client.post(undo_of(text))
    assert FundingSource.objects.get().removed_on is None


def test_a_source_that_gave_nothing_is_taken_off_from_the_list(panels: LineItem, loan: FundingSource, lead: User):
    client, url = signed_in(lead), address("remove_source", panels.project, loan.pk)
    assert f'action="{url}"' in read(client, address("cash", panels.project))
    funding.receive(loan, amount_minor=1, received_on=TODAY, by=lead, now=NOW, today=TODAY)
    assert f'action="{url}"' not in read(client, address("cash", panels.project))
    assert "lower what it promises" in client.post(url, follow=True).content.decode()
    assert FundingSource.objects.get().removed_on is None


@pytest.mark.parametrize(
    ("name", "slip", "words"),
    [
        ("release", {"amount": "400.01"}, "€400 is held of Verralis"),
        ("release", {"amount": ""}, "Nothing is due before"),
        ("release", {"amount": "NaN"}, 'aria-invalid="true"'),
        ("release", {"amount": "-5"}, "leave out the minus"),
        ("release", {"released_on": "2027-01-30"}, "out of range"),
        ("arrive", {"arrived_on": "2030-01-01"}, "out of range"),
        ("add_source", {"name": "Loan"}, "already"),
        ("add_source", {"amount": "99999999999999999999"}, 'aria-invalid="true"'),
        ("edit_source", {"version": "7"}, "Somebody else saved this source"),
        ("receive", {"amount": "30,000.01"}, "has £30,000 left to give"),
        ("receive", {"source": "999"}, 'aria-invalid="true"'),
        ("payment_stages", {"rows-1-share_percent": "59"}, "do not add up"),
        ("payment_stages", {"rows-0-share_percent": ""}, "Give a share or an amount"),
        ("payment_stages", {"rows-0-kind": "bribe"}, 'aria-invalid="true"'),
        ("payment_stages", {"rows-TOTAL_FORMS": "999999999"}, "Nothing is saved yet"),
        ("payment_stages", {"rows-TOTAL_FORMS": "x"}, "Nothing is saved yet"),
        ("retention_stages", {"rows-0-share_percent": "39"}, "add up to 100%"),
        ("retention_stages", {"rows-0-due_on": "1066-10-14"}, "out of range"),
    ],
)
def test_a_slip_answers_with_the_form_and_writes_nothing(
    name: str, slip: dict[str, str], words: str, panels: LineItem, loan: FundingSource, lead: User
):
    before = rows()
    form = DEEDS[name][0] | ({"source": str(loan.pk)} if name == "receive" else {}) | slip
    answer = signed_in(lead).post(place(name, panels, loan), form)
    assert answer.status_code == 422 and words in answer.content.decode()
    assert rows() == before


def test_a_photograph_comes_with_the_arrival(panels: LineItem, lead: User):
    form = {"arrived_on": TODAY.isoformat(), "files": builders.upload("crate.png", builders.PNG)}
    client = signed_in(lead)
    text = client.post(address("arrive", panels.project, agreement_of(panels).pk), form, follow=True).content.decode()
    assert Arrival.objects.get().attachment == Attachment.objects.get() and "crate.png" in text


def test_the_stages_of_the_quote_stand_in_an_empty_plan(panels: LineItem, lead: User):
    text = read(signed_in(lead), address("payment_stages", panels.project, agreement_of(panels).pk))
    assert "Deposit with the order" in text and 'value="40"' in text and "€20,000" in text


@pytest.mark.parametrize("role", ["lead", "owner", "bookkeeper", "viewer"])
def test_everybody_reads_the_stages_and_the_lead_sets_them(
    role: str, panels: LineItem, lead: User, request: pytest.FixtureRequest
):
    """40 % of 20,000 € is billed by the 8,000 €; of 400 € held each half is 200 €, and 100 € was given back."""
    agreement = agreement_of(panels)
    plan, given = stages.proposed(agreement), {"by": lead, "now": NOW, "today": TODAY}
    stages.set_payment_stages(agreement, plan, **given)
    retention.release(agreement, amount_quoted_minor=100_00, released_on=TODAY, **given)
    client = signed_in(request.getfixturevalue(role))
    for name, figures in (
        ("payment_stages", ("€8,000.00", "€0.00", "€12,000.00")),
        ("retention_stages", ("€200.00", "€100.00")),
    ):
        text = read(client, address(name, panels.project, agreement.pk))
        assert all(figure in text for figure in figures) and ("Save the stages" in text) == (role == "lead")


def test_who_reads_is_told_where_no_stage_is_set(project: Project, viewer: User):
    made = builders.let(builders.line(project), 5_000)
    client = signed_in(viewer)
    assert "it is paid as it is billed" in read(client, address("payment_stages", project, made.pk))
    assert "Nothing is withheld yet." in read(client, address("retention_stages", project, made.pk))


def test_a_stage_that_is_struck_out_is_not_kept(panels: LineItem, lead: User):
    form = STAGES | {
        "rows-TOTAL_FORMS": "3", "rows-2-name": "Gone", "rows-2-kind": "stage", "rows-2-share_percent": "5", "rows-2-DELETE": "on",
    }  # fmt: skip
    signed_in(lead).post(address("payment_stages", panels.project, agreement_of(panels).pk), form)
    assert [row.name for row in PaymentStage.objects.all()] == ["Order", "Delivery"]


def test_a_further_row_is_given_without_script(panels: LineItem, lead: User):
    url = address("payment_stages", panels.project, agreement_of(panels).pk)
    answer = signed_in(lead).post(url, STAGES | {"more_rows": "rows"})
    text = answer.content.decode()
    assert answer.status_code == 200 and "rows-2-name" in text and 'value="Delivery"' in text
    assert not PaymentStage.objects.exists()


def test_releasing_and_arriving_change_what_the_page_says(panels: LineItem, lead: User):
    agreement = agreement_of(panels)
    retention.release(agreement, amount_quoted_minor=400_00, released_on=TODAY, by=lead, now=NOW, today=TODAY)
    stages.arrive(agreement, arrived_on=TODAY, by=lead, now=NOW, today=TODAY)
    text = read(signed_in(lead), address("cash", panels.project))
    assert retained.of_agreement(panels.project, agreement.pk).held_minor == 0
    assert "all released" in text and "Everything that was paid for ahead is on site." in text
