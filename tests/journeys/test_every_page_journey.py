"""Every kind of page that can be reached by a link, opened once in the dark, as the lead meets it on a phone."""

import re
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Page

from budget.models import Invoice
from decisions.models import Decision
from projects.models import Project
from tests.journeys import keeping

pytestmark = [pytest.mark.journey, pytest.mark.django_db(transaction=True)]
#: What is handed out and not shown.
HANDED_OUT = re.compile(r"\.(csv|json|xlsx|zip|pdf)$|/pdf/$|/files/#/$")


def kind(address: str) -> str:
    """An address without what tells one page of a kind from another."""
    return re.sub(r"\d+", "#", urlsplit(address).path)


def links(page: Page) -> list[str]:
    every = page.locator("a[href]").evaluate_all("all => all.map(link => link.href)")
    return [address.partition("#")[0] for address in every]


def test_every_kind_of_page_in_the_dark(demo: Project, enter, live_server):
    person = enter(keeping.person("lead"), scheme="dark")
    decided = Decision.objects.get(project=demo, code="D03").pk  # the first link to a decision leads to an open one
    unpaid = Invoice.objects.filter(
        project=demo, state=Invoice.State.APPROVED, paid_quoted_minor=0, payable_quoted_minor__gt=0
    )
    first = unpaid.order_by("pk").values_list("pk", flat=True)[0]  # the first link to an invoice leads to a queried one
    pages = ("", f"choices/{decided}/", f"money/invoices/{first}/")
    starts = [f"{live_server.url}/p/{demo.slug}/{rest}" for rest in pages]
    waiting, met, handed_out = starts, {kind(starts[0])}, set()
    while waiting:
        address = waiting.pop(0)
        if HANDED_OUT.search(kind(address)):
            handed_out.add(kind(address))
            assert person.page.request.get(address).status == 200, address
            continue
        for further in links(person.go(address)):
            assert further.startswith(live_server.url), f"{address} leads out of the program: {further}"
            if kind(further) not in met:
                met.add(kind(further))
                waiting.append(further)
    inside = f"/p/{demo.slug}/"
    assert {f"{inside}{rest}" for rest in EXPECTED} <= met
    assert len(handed_out) > 3


EXPECTED = (
    "money/", "money/lines/#/", "money/lines/#/edit/", "money/lines/#/quotes/", "money/quotes/#/", "money/quotes/#/accept/",
    "money/quotes/new/", "money/vendors/", "choices/", "choices/#/", "choices/#/record/", "choices/#/options/#/",
    "choices/records/#/", "owners/", "project/people/", "project/trail/", "project/",
    "money/invoices/", "money/invoices/#/", "money/invoices/#/pay/", "money/invoices/new/", "money/invoices/all/",
    "money/invoices/lines/#/seen/", "money/invoices/vendors/#/bank/",
    "money/reserve/", "money/reserve/moves/new/", "money/reserve/risks/new/", "money/reserve/risks/#/",
    "money/reserve/risks/#/close/",
    "money/cash/", "money/cash/agreements/#/release/", "money/cash/agreements/#/stages/", "money/cash/agreements/#/retention/",
    "money/cash/agreements/#/arrived/", "money/cash/funding/new/", "money/cash/funding/#/", "money/cash/funding/receive/",
    "sequence/", "sequence/plan/activities/#/", "sequence/plan/activities/#/report/", "sequence/plan/activities/#/edit/",
    "sequence/plan/activities/new/", "sequence/plan/calendars/", "sequence/plan/calendars/#/edit/", "sequence/plan/baselines/new/",
    "sequence/ahead/", "sequence/what-if/", "sequence/holds/", "sequence/holds/#/", "sequence/deliveries/",
    "sequence/deliveries/#/",
    "money/cash/releases/#/take-back/", "money/cash/arrivals/#/take-back/", "money/cash/receipts/#/take-back/", "project/rates/",
)  # fmt: skip
