"""An agreement that something rests on is not simply taken back, whichever way it is tried."""

import pytest

from budget.models import AgreementReversal, LineItem, Movement
from budget.services import agreements, changes, invoices
from decisions.services import drafts, records
from projects.faults import Refused
from projects.models import Project, User
from tests import builders
from tests.budget import changing
from tests.budget.changing import raised
from tests.budget.reserving import let, likely, who, whole
from tests.decisions import building


@pytest.fixture
def project(lead: User) -> Project:
    return changing.build(lead, limit=100_000)


def take_back(line: LineItem, by: User) -> None:
    standing = line.agreement_lines.get().agreement
    agreements.reverse_agreement(standing, reason="crew not free", **who(by))


def test_changes_are_withdrawn_first(project: Project, lead: User):
    line = let(project, agreed=9_000)
    made = raised(line, 500, agree=True)
    with pytest.raises(Refused, match="These changes alter what .* agreed to: C01 Isolation valves"):
        take_back(line, lead)
    assert not AgreementReversal.objects.exists() and likely(line) == 9_500
    changes.reopen(made, reason="taken back", **who(lead))
    changes.withdraw(made, note="", **who(lead))
    take_back(line, lead)
    assert AgreementReversal.objects.count() == 1 and whole(project)


def test_a_declined_change_is_in_nobodys_way(project: Project, lead: User):
    line = let(project)
    changes.decline(raised(line, 500), note="no", **who(lead))
    take_back(line, lead)
    assert AgreementReversal.objects.count() == 1 and whole(project)


def test_invoices_are_credited_first(project: Project, lead: User):
    line = let(project, agreed=9_000)
    billed = builders.approved(line, 4_000, number="AR-1", vendor="Vendor L0101")
    with pytest.raises(Refused, match="Vendor L0101 AR-1 has billed this agreement"):
        take_back(line, lead)
    builders.approved(line, -4_000, number="AR-2", vendor="Vendor L0101", credits_id=billed.pk)
    take_back(line, lead)
    assert AgreementReversal.objects.count() == 1 and whole(project)


def test_what_another_vendor_bills_does_not_hold_an_agreement(project: Project, lead: User):
    line = let(project)
    builders.approved(line, 4_000, number="X-1", vendor="Somebody else")
    take_back(line, lead)
    assert AgreementReversal.objects.count() == 1 and whole(project)


def test_a_refused_invoice_does_not_hold_an_agreement(project: Project, lead: User):
    line = let(project)
    billed = builders.invoice(line, 4_000, number="AR-1", vendor="Vendor L0101")
    invoices.refuse(billed, note="not ours", **who(lead))
    take_back(line, lead)
    assert AgreementReversal.objects.count() == 1 and whole(project)


def test_a_decision_is_not_reopened_under_a_change(project: Project, lead: User):
    tank = building.tank(project)
    building.record(tank, "B")
    line = LineItem.objects.select_related("project").get(decision_lines__decision=tank)
    raised(line, 500)
    before = Movement.objects.count()
    with pytest.raises(Refused, match="These changes alter what"):
        records.reopen(tank, reason="not yet", **who(lead))
    tank.refresh_from_db()
    assert tank.state == "decided" and Movement.objects.count() == before and whole(project)


def test_a_decision_is_not_reopened_under_a_change_that_prices_its_effect(project: Project, lead: User):
    engineer = let(project, "L1401", budget=5_000, agreed=5_000)
    tank = building.tank(project, effects=(drafts.EffectDraft(engineer.pk, 190_000, "more design"),))
    building.record(tank, "B")
    assert likely(engineer) == 6_900
    effect = engineer.knock_ons.get()
    made = raised(engineer, 1_900, title="Extra design", paid_from="saving", knock_on_id=effect.pk)
    with pytest.raises(Refused, match="C01 Extra design has put an effect of this decision into an agreement"):
        records.reopen(tank, reason="not yet", **who(lead))
    changes.withdraw(made, note="", **who(lead))
    records.reopen(tank, reason="not yet", **who(lead))
    assert likely(engineer) == 5_000 and whole(project)
