"""Two people at the same row at the same time: one wins, the other is told in a sentence, and the ledger stays whole.

Each runs in a thread and transaction of its own, let go at the same moment. PostgreSQL lets both begin and holds the
second at the project's row; SQLite lets one writer in at a time.
"""

import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from django.db import connection, connections

from budget.models import Agreement, Invoice, LineItem, Movement, Payment, Quote
from budget.services import agreements, ledger, lines, payments, quotes
from decisions.models import BookEntry, Decision, Record
from decisions.services import records
from projects.faults import Refused
from projects.models import Invitation, Membership, Project, Role, User
from projects.services import people
from tests import builders
from tests.builders import NOW, TODAY
from tests.decisions import book_building, building

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def as_when_it_runs(transactional_db: None, tmp_path: Path) -> Iterator[None]:
    """On SQLite the database is a file here, as in use; the one in memory that tests have locks by other rules."""
    if connection.vendor != "sqlite":
        yield
        return
    connection.ensure_connection()
    in_memory, name = connection.connection, connection.settings_dict["NAME"]
    with closing(sqlite3.connect(tmp_path / "build.sqlite3")) as file:
        in_memory.backup(file)
    connection.connection, connection.settings_dict["NAME"] = None, str(tmp_path / "build.sqlite3")
    yield
    connection.close()
    connection.connection, connection.settings_dict["NAME"] = in_memory, name


def at_once(*deeds: Callable[[], Any]) -> tuple[list[Any], list[str]]:
    """Do some deeds at the same moment. Returns: what was done, and the sentences of those that were refused."""
    gate, done, told, crashed = threading.Barrier(len(deeds)), [], [], []

    def run(deed: Callable[[], Any]) -> None:
        try:
            gate.wait(timeout=20)
            done.append(deed())
        except Refused as fault:
            told.append(fault.message)
        except Exception as fault:
            crashed.append(repr(fault))
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run, args=(deed,)) for deed in deeds]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    assert crashed == [] and len(done) + len(told) == len(deeds)
    return done, told


def who(lead: User) -> dict[str, Any]:
    return {"by": lead, "now": NOW, "today": TODAY}


def whole(project: Project) -> bool:
    return ledger.unreconciled(project) == []


def test_one_quote_is_accepted_once(project: Project, lead: User) -> None:
    quote = builders.quote(builders.line(project), 9_000)

    def accept() -> Agreement:
        return agreements.accept_quote(Quote.objects.get(pk=quote.pk), role=Role.LEAD, **who(lead))

    done, told = at_once(accept, accept)
    assert len(done) == Agreement.objects.count() == 1
    assert told == ["The quote of Aridlow is accepted; only an open quote can be accepted."] and whole(project)


def test_one_line_is_let_to_one_of_two_vendors(project: Project, lead: User) -> None:
    line = builders.line(project)
    both = [builders.quote(line, 9_000, vendor=name) for name in ("Aridlow", "Norrowby")]
    done, told = at_once(*(lambda q=q: agreements.accept_quote(q, role=Role.LEAD, **who(lead)) for q in both))
    line.refresh_from_db()
    assert len(done) == 1 and "take that acceptance back first" in told[0]
    assert line.agreed_minor == 900_000 and whole(project)


def test_one_decision_is_recorded_once(project: Project, lead: User) -> None:
    decision = building.tank(project)
    choices = [building.choose(decision, letter) for letter in "AB"]
    as_lead = building.as_lead(project)

    def deed(choice: records.Choice) -> Callable[[], Record]:
        return lambda: records.record(Decision.objects.get(pk=decision.pk), choice, **as_lead)

    done, told = at_once(*map(deed, choices))
    assert len(done) == Record.objects.count() == 1
    assert told == ["This decision is decided; reopen it before changing it."] and whole(project)


def test_two_decisions_do_not_settle_one_line_together(project: Project, lead: User) -> None:
    first = building.tank(project)
    second = building.decision(project, LineItem.objects.get(project=project))
    for amount in (14_000, 15_000):
        building.option(second, f"for {amount}", building.priced(LineItem.objects.get(project=project), amount=amount))
    asked = [(decision, building.choose(decision, "B")) for decision in (first, second)]
    as_lead = building.as_lead(project)
    done, told = at_once(*(lambda d=d, c=c: records.record(d, c, **as_lead) for d, c in asked))
    assert len(done) == 1 and len(told) == 1 and whole(project)


def test_one_record_is_answered_once(project: Project, lead: User, owner: User) -> None:
    decision = building.tank(project, plinth=60_000, frame=50_000)
    row = building.record(decision, "B")
    assert row.needs_approval

    def answer(verdict: str) -> Callable[[], Any]:
        return lambda: records.approve(row, verdict=verdict, note="so", role=Role.OWNER, **who(owner))

    done, told = at_once(answer(records.APPROVED), answer(records.DECLINED))
    assert len(done) == 1 and told == ["This record does not wait for an approval any more."] and whole(project)


def test_a_decision_is_taken_back_once(project: Project, lead: User) -> None:
    decision = building.tank(project)
    building.record(decision, "B")
    done, told = at_once(*[lambda: records.reopen(decision, reason="not yet", **who(lead))] * 2)
    assert len(done) == 1 and told == ["This decision is open; there is nothing to take back."] and whole(project)


def test_quotes_on_one_line_all_count(project: Project, lead: User) -> None:
    line = builders.line(project)

    def log(vendor: str, amount: int) -> Callable[[], Quote]:
        row = quotes.QuotedLine(line.pk, amount)
        draft = quotes.QuoteDraft(vendor, "GBP", TODAY, (row,))
        return lambda: quotes.log_quote(project, draft, **who(lead))

    done, told = at_once(log("Aridlow", 900_000), log("Norrowby", 950_000), log("Quillstone", 1_100_000))
    line.refresh_from_db()
    assert (len(done), told, line.likely_minor) == (3, [], 950_000) and whole(project)
    assert line.original_minor in {900_000, 950_000, 1_100_000} and line.originals.count() == 1


def test_one_form_sent_twice_logs_one_quote_and_one_vendor(project: Project, lead: User) -> None:
    line = builders.line(project)
    draft = quotes.QuoteDraft("Aridlow", "GBP", TODAY, (quotes.QuotedLine(line.pk, 900_000),))
    done, told = at_once(*[lambda: quotes.log_quote(project, draft, again=False, **who(lead))] * 2)
    assert len(done) == 1 and "logged already" in told[0] and Movement.objects.count() == 1


def test_one_quote_is_replaced_once(project: Project, lead: User) -> None:
    line = builders.line(project)
    old = builders.quote(line, 9_000)

    def replace(amount: int) -> Callable[[], Quote]:
        row = quotes.QuotedLine(line.pk, amount)
        draft = quotes.QuoteDraft("Aridlow", "GBP", TODAY, (row,), replaces_id=old.pk)
        return lambda: quotes.log_quote(project, draft, **who(lead))

    done, told = at_once(replace(800_000), replace(850_000))
    assert len(done) == 1 and told == ["Only an open quote can be replaced; this one is settled."] and whole(project)


def test_one_code_names_one_line(project: Project, lead: User) -> None:
    builders.trade(project)
    draft = lines.LineDraft("T01", "L0101", "Slab", budget_minor=100)
    done, told = at_once(*[lambda: lines.add_line(project, draft, **who(lead))] * 2)
    assert len(done) == 1 and told == ["Line code L0101 is taken; choose another."]


def test_one_code_names_one_trade(project: Project, lead: User) -> None:
    done, told = at_once(*[lambda: lines.add_trade(project, by=lead, now=NOW, code="T77", name="Steel")] * 2)
    assert len(done) == 1 and told == ["Trade code T77 is taken; choose another."]


def test_one_link_lets_one_person_in(project: Project, lead: User) -> None:
    made = people.invite(project, role=Role.OWNER, note="Olu", by=lead, now=NOW)
    both = [builders.person(name) for name in ("olu", "mallory")]
    done, told = at_once(*(lambda u=u: people.accept_invitation(made.secret, by=u, now=NOW) for u in both))
    assert len(done) == 1 and told == ["This link no longer works; ask the one who sent it for a new one."]
    assert Membership.objects.filter(role=Role.OWNER).count() == 1


def test_one_name_makes_one_account(project: Project, lead: User) -> None:
    made = [people.invite(project, role=Role.VIEWER, note=str(n), by=lead, now=NOW) for n in range(2)]
    accounts = [people.NewAccount("Olu", name, "a long enough secret") for name in ("Olu", "olu")]
    pairs = list(zip(made, accounts, strict=True))
    done, told = at_once(*(lambda m=m, a=a: people.accept_with_account(m.secret, a, now=NOW) for m, a in pairs))
    assert len(done) == 1 and told == ["This sign-in name is taken; choose another."]
    assert Invitation.objects.filter(accepted_at=None).count() == 1


def test_a_link_taken_back_while_it_is_used_is_one_of_the_two(project: Project, lead: User) -> None:
    made = people.invite(project, role=Role.OWNER, note="Olu", by=lead, now=NOW)
    olu = builders.person("olu")
    done, told = at_once(
        lambda: people.accept_invitation(made.secret, by=olu, now=NOW),
        lambda: people.revoke_invitation(made.invitation, by=lead, now=NOW),
    )
    held = Invitation.objects.get()
    assert len(done) == len(told) == 1 and (held.accepted_at is None) != (held.revoked_at is None)


def test_two_leads_do_not_leave_the_build_without_one(project: Project, lead: User) -> None:
    second = builders.member(project, builders.person("second"), Role.LEAD)
    first = Membership.objects.get(project=project, user=lead)
    done, told = at_once(*(lambda m=m: people.remove_member(m, by=lead, now=NOW) for m in (first, second)))
    assert len(done) == 1 and told == ["A build needs a lead; make somebody else a lead first."]


def test_the_days_quotes_run_out_once(project: Project, lead: User) -> None:
    line = builders.line(project)
    quote = builders.quote(line, 9_000, valid_until=TODAY)
    tomorrow = TODAY.replace(day=TODAY.day + 1)
    done, _told = at_once(*[lambda: ledger.bring_up_to(project, today=tomorrow, at=NOW)] * 2)
    assert sorted(map(len, done)) == [0, 1] and quote.expired(tomorrow) and whole(project)


def test_one_invoice_is_paid_once(project: Project, lead: User) -> None:
    line = builders.line(project)
    builders.let(line, 9_000)
    invoice = builders.approved(line, 4_000)

    def pay() -> Payment:
        return payments.pay(Invoice.objects.get(pk=invoice.pk), paid_on=TODAY, **who(lead))

    done, told = at_once(pay, pay)
    assert len(done) == Payment.objects.count() == 1
    assert told == ["It is paid in full."] and whole(project)


def test_one_number_is_entered_once(project: Project, lead: User) -> None:
    line = builders.line(project)
    builders.let(line, 9_000)
    done, told = at_once(*(lambda: builders.invoice(line, 4_000) for _turn in range(2)))
    assert len(done) == Invoice.objects.count() == 1
    assert "already" in told[0] and whole(project)


def test_one_saving_is_claimed_once_however_fast(project: Project) -> None:
    line = book_building.let(project)
    done, told = at_once(
        lambda: book_building.enter(line, 2_000, what="Second maker"),
        lambda: book_building.enter(line, 2_000, what="Talked down"),
    )
    assert len(done) == 1 and "£1,000 of the difference is not in the book yet" in told[0]
    assert sum(BookEntry.objects.values_list("amount_minor", flat=True)) == 2_000_00


def test_an_idea_taken_further_and_back_at_once_goes_one_way(project: Project) -> None:
    idea = book_building.enter(book_building.let(project), 1_000, state="priced")
    done, told = at_once(lambda: book_building.advance(idea, "decided"), lambda: book_building.take_back(idea))
    assert len(done) == 1 and "in the meantime" in told[0] and BookEntry.objects.count() == 2
