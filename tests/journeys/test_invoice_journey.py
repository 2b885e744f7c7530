"""An invoice from the post to the bank: entered, looked at, asked about, approved, paid in two parts, and credited."""

import re

import pytest
from playwright.sync_api import Page, expect

from budget.models import Invoice, LineItem, Payment
from budget.services import ledger
from projects.models import Project
from tests.journeys import keeping, pictures
from tests.journeys.watching import Person

pytestmark = [pytest.mark.journey, pytest.mark.django_db(transaction=True)]
BILL = {"name": "bill.png", "mimeType": "image/png", "buffer": pictures.png()}


def heading(page: Page):
    return page.get_by_role("heading", level=1)


def type_an_invoice(page: Page, number: str, line: str, net: str) -> None:
    page.get_by_label("Vendor", exact=True).fill("Voltmarsh Electric")
    page.get_by_label("Number on it").fill(number)
    page.get_by_label("Line", exact=True).fill(line)
    page.get_by_label("Net amount").fill(net)


def follow_button(person: Person, name: str) -> Page:
    return person.follow(person.page.get_by_role("button", name=name, exact=True).last)


def follow_link(person: Person, name: str) -> Page:
    return person.follow(person.page.get_by_role("link", name=name, exact=True))


def say(person: Person, label: str, words: str, button: str) -> Page:
    person.page.get_by_label(label).fill(words)
    return follow_button(person, button)


@pytest.mark.parametrize("script", [True, False], ids=["script", "without script"])
def test_from_the_post_to_the_bank(demo: Project, enter, script: bool):
    """By hand: L0703 is let for 30,100 and 9,030 of it is billed; 5,000 less 5 % is 4,750, with 20 % tax 5,700."""
    clerk = enter(keeping.person("bookkeeper"), "desk", script=script)
    page = clerk.go(f"/p/{demo.slug}/money/invoices/")
    expect(heading(page)).to_contain_text("3 invoices have to be asked about")
    follow_link(clerk, "Enter an invoice")
    type_an_invoice(page, "VM-1201", "L0703", "5,000")
    page.get_by_label("Photograph or PDF").set_input_files(BILL)
    follow_button(clerk, "Show the verdict")
    expect(heading(page)).to_have_text("It fits: it can be approved and paid.")
    expect(page.get_by_label(re.compile("^Retention held"))).to_have_value("250.00")
    expect(page.locator("main")).to_contain_text("£5,700.00")
    follow_button(clerk, "Enter it")
    expect(page.get_by_role("status")).to_contain_text("Entered Voltmarsh Electric VM-1201.")
    expect(page.get_by_role("button", name="Approve for payment")).to_have_count(0)
    address = page.url

    owner = enter(keeping.person("owner"), "phone", script=script)
    owner.go(address)
    follow_button(owner, "Approve for payment")
    expect(heading(owner.page)).to_contain_text("£5,700 of VM-1201 is approved and to be paid to Voltmarsh Electric")

    clerk.go(address)
    follow_link(clerk, "Enter a payment")
    page.get_by_label("Amount paid").fill("2,000")
    say(clerk, "Reference", "statement 9", "Enter the payment")
    expect(heading(page)).to_contain_text("£3,700 of VM-1201 is approved")
    follow_link(clerk, "Enter a payment")
    expect(page.get_by_label("Amount paid")).to_have_value("3700.00")
    follow_button(clerk, "Enter the payment")
    expect(heading(page)).to_have_text("VM-1201 of Voltmarsh Electric is paid.")
    assert list(Payment.objects.order_by("-pk").values_list("amount_minor", flat=True)[:2]) == [370_000, 200_000]
    line = LineItem.objects.get(project=demo, code="L0703")
    assert line.invoiced_minor == 903_000 + 500_000 and ledger.unreconciled(demo) == []


def test_what_is_beyond_is_asked_about_let_through_and_credited(demo: Project, enter):
    """By hand: L0704 is let for 7,900 and 3,950 of it is billed; 4,200 is 250 beyond. 250 with 20 % tax is 300."""
    lead = enter(keeping.person("lead"), "phone")
    page = lead.go(f"/p/{demo.slug}/money/invoices/new/")
    type_an_invoice(page, "VM-1202", "L0704", "4,200")
    follow_button(lead, "Show the verdict")
    expect(heading(page)).to_have_text("Ask the vendor before anything is paid.")
    expect(page.locator(".look")).to_contain_text(
        "It takes Earthing and bonding of wet areas £250 over what was agreed."
    )
    follow_button(lead, "Enter it")
    expect(heading(page)).to_have_text("Ask Voltmarsh Electric about VM-1202 before anything is paid.")
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    page.get_by_role("button", name="Copy the sentence").click()
    expect(page.get_by_role("button", name="Copied")).to_be_visible()
    copied = page.evaluate("navigator.clipboard.readText()")
    assert copied.startswith("Please send a credit note for £250: VM-1202 bills that much for Earthing")

    follow_link(lead, "Approve it all the same")
    say(lead, "Reason", "needed for the inspection; a credit is promised", "Approve for payment")
    lead.go(f"/p/{demo.slug}/money/invoices/")
    let_through = page.locator("section", has_text="Let through, and still to be explained")
    expect(let_through).to_contain_text("VM-1202")
    lead.follow(let_through.get_by_role("link", name="Voltmarsh Electric VM-1202"))

    follow_link(lead, "Enter a credit note for it")
    expect(page.get_by_label("a credit note", exact=True)).to_be_checked()
    page.get_by_label("Net amount").fill("250")
    follow_button(lead, "Show the verdict")
    expect(page.locator(".look")).to_contain_text("−£300.00")
    follow_button(lead, "Enter it")
    expect(heading(page)).to_have_text("Voltmarsh Electric credits £300 with VM-1202-CN.")
    first = Invoice.objects.get(number="VM-1202")
    lead.go(f"/p/{demo.slug}/money/invoices/{first.pk}/")
    expect(page.locator(".verdict")).not_to_contain_text("over what was agreed")
    expect(page.locator(".verdict")).to_contain_text("30% of it was seen done")
    assert ledger.unreconciled(demo) == []


def test_new_bank_details_wait_for_a_second_person(demo: Project, enter):
    clerk = enter(keeping.person("bookkeeper"), "phone")
    page = clerk.go(f"/p/{demo.slug}/money/invoices/new/")
    type_an_invoice(page, "VM-1203", "L0703", "1,000")
    page.get_by_label("Account it asks to be paid to").fill("GB33 BUKB 2020 1555 5555 55")
    follow_button(clerk, "Enter it")
    expect(page.get_by_role("alert")).to_contain_text("Nobody has confirmed where it is to be paid to.")
    expect(page.locator("body")).not_to_contain_text("2020")
    address = page.url
    expect(page.get_by_role("alert")).to_contain_text("somebody else has to confirm them")
    expect(page.get_by_role("link", name=re.compile("^Confirm the details"))).to_have_count(0)

    lead = enter(keeping.person("lead"), "desk")
    lead.go(address)
    follow_link(lead, "Confirm the details …5555")
    say(lead, "Whom you rang", "the office, on the number from the agreement", "They are the vendor’s own")
    expect(lead.page.locator("main")).to_contain_text("on the number from the agreement")
    lead.go(address)
    expect(lead.page.get_by_role("button", name="Approve for payment")).to_be_visible()


def test_what_was_seen_done_brings_a_claim_to_light(demo: Project, enter):
    owner = enter(keeping.person("owner"), "phone")
    line = LineItem.objects.get(project=demo, code="L0703")
    page = owner.go(f"/p/{demo.slug}/money/lines/{line.pk}/")
    follow_link(owner, "Note what is done")
    page.get_by_label("Seen done").fill("15")
    say(owner, "What you saw", "boxes up, nothing pulled", "Note it")
    expect(page.locator("#invoices")).to_contain_text("15% boxes up, nothing pulled")
    owner.go(f"/p/{demo.slug}/money/invoices/")
    let_through = page.locator("section", has_text="Let through, and still to be explained")
    expect(let_through).to_contain_text("Containment and small power is billed to 30%, and 15% of it was seen done.")
