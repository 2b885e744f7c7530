"""Saving columns of many rows by a repeated statement."""

from decimal import Decimal

import pytest

from budget.models import LineItem
from projects import bulk
from projects.models import Project
from tests import builders
from tests.builders import TODAY


@pytest.mark.django_db
def test_the_named_columns_are_written_and_no_others(project: Project) -> None:
    rows = [builders.line(project, f"L{number}", budget=100) for number in range(5)]
    for number, row in enumerate(rows):
        row.likely_minor, row.quantity, row.removed_on, row.description = number, Decimal("2.50"), TODAY, "not written"
    assert bulk.save_columns(rows, ["likely_minor", "quantity", "removed_on"]) == 5
    read = LineItem.objects.filter(pk__in=[row.pk for row in rows]).order_by("pk")
    assert [row.likely_minor for row in read] == [0, 1, 2, 3, 4]
    assert {(row.quantity, row.removed_on, row.description[:4]) for row in read} == {(Decimal("2.5"), TODAY, "Work")}


@pytest.mark.django_db
def test_no_rows_are_nothing_to_do() -> None:
    assert bulk.save_columns([], ["likely_minor"]) == 0


@pytest.mark.django_db
def test_plain_values_are_written_as_instances_would_be(project: Project) -> None:
    rows = [builders.line(project, f"L{number}", budget=100) for number in range(4)]
    given = [(row.pk, (number % 2, Decimal("2.50"), TODAY if number else None)) for number, row in enumerate(rows)]
    assert bulk.save_values(LineItem, ["likely_minor", "quantity", "removed_on"], iter(given)) == 4
    read = LineItem.objects.filter(pk__in=[row.pk for row in rows]).order_by("pk")
    assert [(row.likely_minor, row.quantity, row.removed_on) for row in read] == [values for _pk, values in given]


@pytest.mark.django_db
def test_no_values_are_nothing_to_do() -> None:
    assert bulk.save_values(LineItem, ["likely_minor"], []) == 0
