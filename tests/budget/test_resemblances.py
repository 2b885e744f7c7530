"""Look-alikes found by the database against the rule held against every invoice of the vendor, one by one."""

import random
from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from budget.calc import numbering
from budget.calc.numbering import LookAlike, Numbered, number_key
from budget.models import Invoice, InvoiceLine, LineItem, Vendor
from budget.selectors.resemblances import resemblances
from projects.models import Project
from tests import builders
from tests.builders import NOW, TODAY


@pytest.fixture
def lines(project: Project) -> list[LineItem]:
    return [builders.line(project, code) for code in ("L1", "L2")]


@pytest.fixture
def vendor(project: Project) -> Vendor:
    return Vendor.objects.create(project=project, name="Voltmarsh", key="voltmarsh")


def written(vendor: Vendor, number: str, rows: Sequence[tuple[LineItem, int]], **facts: Any) -> Invoice:
    """The rows alone; likeness asks for nothing else."""
    on: date = facts.pop("on", TODAY)
    told = {"currency": "GBP", "rate": Decimal(1), "invoiced_on": on, "received_on": on, "entered_at": NOW} | facts
    made = Invoice.objects.create(
        project=vendor.project, vendor=vendor, number=number, number_key=number_key(number), **told
    )
    InvoiceLine.objects.bulk_create(
        InvoiceLine(invoice=made, line=line, net_quoted_minor=net, net_minor=net, cost_minor=net) for line, net in rows
    )
    return made


def by_the_rule(new: Invoice) -> set[LookAlike]:
    """Every row of every standing invoice of the vendor against every row of the new one."""

    def told(row: InvoiceLine) -> Numbered:
        return Numbered("", row.invoice.number, str(row.line_id), row.net_quoted_minor, row.invoice.invoiced_on)

    others = Invoice.objects.filter(vendor=new.vendor, kind=new.kind).exclude(state="refused").exclude(pk=new.pk)
    rows = InvoiceLine.objects.filter(invoice__in=others).select_related("invoice")
    pairs = ((told(theirs), told(mine)) for theirs in rows for mine in new.lines.select_related("invoice"))
    found = [like for theirs, mine in pairs if (like := numbering.resemblance(theirs, mine))]
    surer = {like.number for like in found if like.same_amount}
    return {like for like in found if like.same_amount or like.number not in surer}


def test_what_is_found_is_what_the_rule_finds_among_all(vendor: Vendor, lines: list[LineItem]) -> None:
    draw = random.Random(7)
    numbers = dict.fromkeys(
        f"{draw.choice(('VM-', 'vm ', 'Vn/', ''))}{draw.choice((1187, 1188, 118, 42))}{draw.choice(('', 'A', 'b', 'CD', 'efg'))}"
        for _turn in range(70)
    )
    keys = {number_key(number): number for number in numbers}
    made = [
        written(
            vendor, number, [(line, draw.choice((5_000, 7_000))) for line in lines[: draw.choice((1, 2))]],
            on=TODAY - timedelta(days=draw.randrange(40)), state=draw.choice(("waiting", "approved", "refused")),
        )
        for number in keys.values()
    ]  # fmt: skip
    alike = [(set(resemblances(new, list(new.lines.all()))), by_the_rule(new)) for new in made]
    assert all(found == expected for found, expected in alike)
    assert len(made) > 25 and sum(bool(found) for found, _expected in alike) > 10


def test_the_likest_comes_first(vendor: Vendor, lines: list[LineItem]) -> None:
    slab, wall = lines
    written(vendor, "VM-1187B", [(wall, 1)], on=TODAY - timedelta(days=30))
    written(vendor, "VM-1", [(slab, 5_000)], on=TODAY - timedelta(days=9))
    new = written(vendor, "VM-1187", [(slab, 5_000)])
    assert resemblances(new, list(new.lines.all())) == (LookAlike("VM-1", 9, True), LookAlike("VM-1187B", 30, False))


def test_another_vendors_and_a_credit_note_are_never_like(vendor: Vendor, lines: list[LineItem]) -> None:
    other = Vendor.objects.create(project=vendor.project, name="Quillstone", key="quillstone")
    written(other, "VM-1187A", [(lines[0], 5_000)])
    written(vendor, "VM-1187A", [(lines[0], 5_000)], kind="credit")
    new = written(vendor, "VM-1187", [(lines[0], 5_000)])
    assert resemblances(new, list(new.lines.all())) == ()


def test_it_asks_twice_however_many_there_are(
    vendor: Vendor, lines: list[LineItem], django_assert_num_queries: Any
) -> None:
    for number in range(30):
        written(vendor, f"VM-{number}", [(lines[0], number)])
    new = written(vendor, "VM-7A", [(lines[0], 7)])
    rows = list(new.lines.all())
    with django_assert_num_queries(2):
        assert [like.number for like in resemblances(new, rows)] == ["VM-7"]
