"""Money promised and money that came in; against the rules of the house (no outside source)."""

from datetime import timedelta
from typing import Any

import pytest
from django.db import transaction
from hypothesis import given
from hypothesis import strategies as st

from budget.models import FundingReceipt, FundingSource
from budget.services import funding
from projects.faults import Refused, Stale
from projects.models import Project, User
from tests import builders
from tests.builders import NOW, TODAY
from units.amounts import LARGEST_MINOR


def add(project: Project, by: User, name: str = "Bank loan", amount: int = 570_000, **more: Any) -> FundingSource:
    return funding.add_source(project, name=name, amount_minor=amount * 100, by=by, now=NOW, today=TODAY, **more)


def receive(source: FundingSource, by: User, minor: int, **more: Any) -> FundingReceipt:
    given_on = {"received_on": TODAY} | more
    return funding.receive(source, amount_minor=minor, by=by, now=NOW, today=TODAY, **given_on)


def edit(source: FundingSource, by: User, **changes: Any) -> FundingSource:
    stands = {"name": source.name, "amount_minor": source.amount_minor, "note": source.note, "version": source.version}
    return funding.edit_source(source, by=by, now=NOW, today=TODAY, **(stands | changes))


def test_what_came_in_is_counted_with_a_trail_row_each(project: Project, lead: User, bookkeeper: User):
    source = add(project, lead)
    receive(source, bookkeeper, 100_000_00)
    receive(source, bookkeeper, 50_000_00)
    assert funding.received_minor(source) == 150_000_00
    assert project.trail.filter(subject="receipt", by=bookkeeper).count() == 2
    assert project.trail.get(subject="funding").summary == "Added the funding source Bank loan: £570,000"


def test_no_more_comes_in_than_was_promised(project: Project, lead: User):
    source = add(project, lead, amount=1_000)
    receive(source, lead, 999_99)
    with pytest.raises(Refused, match="Bank loan has £0.01 left to give"):
        receive(source, lead, 2)
    receive(source, lead, 1)
    assert funding.received_minor(source) == source.amount_minor


def test_a_slip_is_taken_back_once_by_an_opposite_row(project: Project, lead: User):
    source = add(project, lead)
    row = receive(source, lead, 100)
    funding.take_back(row, reason="another project's", by=lead, now=NOW, today=TODAY)
    assert funding.received_minor(source) == 0 and FundingReceipt.objects.count() == 2
    with pytest.raises(Refused, match="taken back already"):
        funding.take_back(row, reason="again", by=lead, now=NOW, today=TODAY)


def test_a_reversal_is_not_taken_back_and_a_reason_is_needed(project: Project, lead: User):
    row = receive(add(project, lead), lead, 100)
    with pytest.raises(Refused, match="Say why"):
        funding.take_back(row, reason="  ", by=lead, now=NOW, today=TODAY)
    reversal = funding.take_back(row, reason="slip", by=lead, now=NOW, today=TODAY)
    with pytest.raises(Refused):
        funding.take_back(reversal, reason="slip", by=lead, now=NOW, today=TODAY)


def test_a_source_promises_no_less_than_came_in(project: Project, lead: User):
    source = add(project, lead)
    receive(source, lead, 100_00)
    with pytest.raises(Refused, match="£100 has come in") as fault:
        edit(source, lead, amount_minor=99_99)
    assert fault.value.field == "amount"
    assert edit(source, lead, amount_minor=100_00).amount_minor == 100_00


def test_two_who_edit_one_source_see_each_other(project: Project, lead: User):
    source = add(project, lead)
    edit(source, lead, name="Bank loan, second bank")
    with pytest.raises(Stale) as fault:
        edit(source, lead, amount_minor=1, version=1)
    assert fault.value.theirs["name"] == "Bank loan, second bank"


def test_saving_what_stands_writes_nothing(project: Project, lead: User):
    source = add(project, lead)
    edit(source, lead)
    assert project.trail.filter(subject="funding").count() == 1


def test_a_source_leaves_the_list_while_nothing_came_in_and_comes_back(project: Project, lead: User):
    source = add(project, lead)
    row = receive(source, lead, 1)
    with pytest.raises(Refused, match="lower what it promises"):
        funding.remove_source(source, by=lead, now=NOW, today=TODAY)
    funding.take_back(row, reason="slip", by=lead, now=NOW, today=TODAY)
    assert funding.remove_source(source, by=lead, now=NOW, today=TODAY).removed_on == TODAY
    with pytest.raises(Refused, match="meanwhile"):
        receive(source, lead, 1)
    assert funding.put_back_source(source, by=lead, now=NOW, today=TODAY).removed_on is None


def test_a_name_is_taken_once_and_free_again_when_its_source_is_gone(project: Project, lead: User):
    first = add(project, lead, "Shares")
    with pytest.raises(Refused, match="already"):
        add(project, lead, "  shares ")
    funding.remove_source(first, by=lead, now=NOW, today=TODAY)
    add(project, lead, "Shares")
    with pytest.raises(Refused, match="already"):
        funding.put_back_source(first, by=lead, now=NOW, today=TODAY)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"name": "  "}, "name"),
        ({"name": "x" * 121}, "name"),
        ({"note": "x" * 301}, "note"),
        ({"amount_minor": -1}, "amount"),
        ({"amount_minor": LARGEST_MINOR + 1}, "amount"),
    ],
)
def test_a_slip_in_a_source_is_refused_at_its_field(changes: dict[str, Any], field: str, project: Project, lead: User):
    draft = {"name": "Grant", "amount_minor": 1} | changes
    with pytest.raises(Refused) as fault:
        funding.add_source(project, by=lead, now=NOW, today=TODAY, **draft)
    assert fault.value.field == field and not FundingSource.objects.exists()


@pytest.mark.parametrize(
    ("minor", "more", "field"),
    [
        (0, {}, "amount"),
        (-1, {}, "amount"),
        (LARGEST_MINOR + 1, {}, "amount"),
        (1, {"received_on": TODAY + timedelta(days=1)}, "received_on"),
        (1, {"note": "x" * 301}, "note"),
    ],
)
def test_a_slip_in_a_receipt_is_refused_at_its_field(
    minor: int, more: dict[str, Any], field: str, project: Project, lead: User
):
    source = add(project, lead)
    with pytest.raises(Refused) as fault:
        receive(source, lead, minor, **more)
    assert fault.value.field == field and not FundingReceipt.objects.exists()


@given(deeds=st.lists(st.tuples(st.booleans(), st.integers(1, 500)), max_size=12))
@pytest.mark.django_db
def test_the_sum_is_never_above_the_promise_nor_below_zero(deeds: list[tuple[bool, int]]):
    """Oracle: a plain list of what stands, kept beside the rows."""
    with transaction.atomic():
        by = builders.person("keeper")
        source = add(builders.project(by), by, amount=10)
        standing: list[FundingReceipt] = []
        for taking_back, minor in deeds:
            if taking_back and standing:
                funding.take_back(standing.pop(), reason="slip", by=by, now=NOW, today=TODAY)
            elif sum(row.amount_minor for row in standing) + minor <= source.amount_minor:
                standing.append(receive(source, by, minor))
            else:
                with pytest.raises(Refused):
                    receive(source, by, minor)
        assert funding.received_minor(source) == sum(row.amount_minor for row in standing)
        transaction.set_rollback(True)
