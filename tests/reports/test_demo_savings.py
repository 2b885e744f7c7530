"""The demo's savings come out of the book as its story states them.

The story is invented, and so are its figures; they were worked out apart from this program, which makes them an
independent check.
"""

from decimal import Decimal
from typing import Any

import pytest

from budget.models import Change
from decisions.selectors import book_entries, savings, savings_page, savings_proofs
from projects.models import Project
from reports.demo import scenario

pytestmark = pytest.mark.django_db
minor = scenario.minor
STORY = scenario.read()
STATED = STORY["check_values"]["savings"]
PROOFS = STORY["check_values"]["reconciliation_original_quote_to_forecast"]
ENTRIES = STORY["savings_and_overages"]
#: The story's kinds in our words; of "risk taken on" it says itself that it counts as bought.
KINDS = {
    "true saving": "same for less",
    "better quote": "same for less",
    "negotiated": "same for less",
    "risk taken on": "same for less",
    "scope reduction": "scope cut",
    "moved to another line": "moved",
    "avoided cost": "avoided",
    "overage": "overage",
    "owner's addition": "addition",
    "currency": "currency",
    "already plugged in the comparison": "carried",
    "deferral": "deferral",
}


def test_the_sums_are_the_stated_ones(demo: Project):
    seen = savings.book(demo)
    assert seen.counted_minor == minor(STATED["true_and_bought"])
    assert seen.realised_minor == minor(STATED["realised_of_that"])
    assert sum(part.amount_minor for part in seen.kept) == minor(STATED["scope_reductions"])
    assert seen.net_minor == minor(STATED["net_of_all_counted"])
    eaten = {
        kind: sum(p.amount_minor for p in seen.eaten if p.kind == kind) for kind in ("addition", "overage", "currency")
    }
    stated = {"addition": "owner_additions", "overage": "overages", "currency": "currency"}
    assert eaten == {kind: minor(STATED[name]) for kind, name in stated.items()}


def test_every_entry_of_the_story_is_in_the_book_once(demo: Project):
    """By kind and amount; what the program reads from changes and rates stands there without anybody entering it."""
    read = sorted((entry.kind, entry.amount_minor) for entry in book_entries.read(demo).entries)
    stated = sorted((KINDS[row["kind"]], minor(row["amount"])) for row in ENTRIES)
    assert read == stated and len(read) == 36


@pytest.mark.parametrize(
    "row", [row for row in ENTRIES if KINDS[row["kind"]] == "same for less"], ids=lambda row: row["id"]
)
def test_what_was_bought_is_realised_and_stands_as_stated(demo: Project, row: dict[str, Any]):
    found = [
        entry
        for entry in book_entries.read(demo).entries
        if (entry.kind, entry.amount_minor, entry.what) == ("same for less", minor(row["amount"]), row["what"])
        and {row["line"]} == {book_entries.read(demo).lines[line].code for line in entry.lines}
    ]
    assert [(entry.realised_minor, entry.state) for entry in found] == [
        (minor(row["realised"]), {"closed": "banked"}.get(row["state"], row["state"]))
    ]


def test_rates_are_realised_as_stated(demo: Project):
    read = sorted(entry.realised_minor for entry in book_entries.read(demo).entries if entry.kind == "currency")
    assert read == sorted(minor(row["realised"]) for row in ENTRIES if row["kind"] == "currency")


@pytest.mark.parametrize("row", PROOFS, ids=lambda row: row["line"])
def test_each_line_that_is_let_is_explained_as_stated(demo: Project, row: dict[str, Any]):
    (proof,) = [
        each.proof for each in savings_proofs.proofs(demo) if [row["line"]] == [line.code for line in each.lines]
    ]
    assert proof.original_minor - proof.likely_minor == minor(row["reference_less_forecast"])
    assert proof.entries_minor == minor(row["book_entries"])
    assert proof.moved_minor == minor(row["moved_to_another_line"])
    assert -proof.likely_changes_minor == minor(row["likely_changes"])
    assert proof.plugs_minor == minor(row["plug_not_fully_likely"])
    assert proof.unexplained_minor == 0


def test_forty_lines_are_proved_and_none_is_left_unexplained(demo: Project):
    assert len(savings_proofs.proofs(demo)) == len(PROOFS) == 40
    assert savings_proofs.unproved(demo) == []


def test_what_may_still_eat_is_the_proposed_changes_less_the_gap_one_prices(demo: Project):
    """From the story's changes: each by its chance, less the gap of 1,260.00 that one of them prices."""
    pending = [row for row in STORY["changes"] if row["status"] == "pending"]
    expected = sum(minor(row["amount"]) * Decimal(str(row["chance"])) for row in pending) - minor(1260)
    assert Change.objects.filter(project=demo, state=Change.State.PROPOSED).count() == len(pending)
    assert savings_page.savings_page(demo).may_eat_minor == expected
