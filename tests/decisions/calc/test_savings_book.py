"""The rules of the savings book: by hand, by property, and against a plain walk over every entry."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from decisions.calc import savings_book
from decisions.calc.savings_book import Claim, LineFigures, Part
from tests.worked_tables import minor, table

AMOUNTS = st.integers(-(10**9), 10**9)
KINDS = st.sampled_from([*savings_book.COUNTED, *savings_book.NOT_COUNTED])
AMOUNT = r"-?[\d,]+\.\d\d"


def parts(cell: str) -> tuple[Part, ...]:
    found = re.findall(rf"([a-z ]+?) ({AMOUNT}) of which ({AMOUNT})", cell)
    return tuple(Part(kind.strip(), minor(amount), minor(realised)) for kind, amount, realised in found)


@pytest.mark.parametrize("row", table("savings-book.md", "What a change counts as"), ids=lambda row: row["counts as"])
def test_changes_count_as_worked_by_hand(row):
    carried = None if row["gap it prices"] == "none" else minor(row["gap it prices"])
    seen = savings_book.of_change(
        minor(row["amount"]), minor(row["billed"]), by_owner=row["by an owner"] == "yes", carried_minor=carried
    )
    assert seen == parts(row["counts as"])


@pytest.mark.parametrize("row", table("savings-book.md", "Proofs of lines"), ids=lambda row: row["original"])
def test_lines_are_proved_as_worked_by_hand(row):
    figures = LineFigures(
        7, minor(row["original"]), minor(row["price"]), minor(row["likely"]),
        likely_changes_minor=minor(row["proposed"]), plugs_minor=minor(row["gaps priced"]),
    )  # fmt: skip
    amounts = [minor(amount) for amount in re.findall(AMOUNT, row["entries"])]
    claims = [Claim("same for less" if amount > 0 else "overage", amount, (7,)) for amount in amounts]
    (proof,) = savings_book.prove([figures], [*claims, Claim("moved", minor(row["moved"]), (7,))])
    assert proof.unexplained_minor == minor(row["unexplained"])


@pytest.mark.parametrize("row", table("savings-book.md", "What is left to claim"), ids=lambda row: row["asked"])
def test_what_is_left_to_claim_as_worked_by_hand(row):
    let = LineFigures(7, minor(row["original"]), minor(row["price"]), minor(row["price"]))
    claimed = minor(row["claimed"])
    left = savings_book.left_to_claim(7, [let], [Claim("same for less" if claimed > 0 else "extra", claimed, (7,))])
    assert left == minor(row["left"])
    assert savings_book.may_claim(minor(row["asked"]), left) is (row["may"] == "yes")


@given(AMOUNTS, AMOUNTS, st.booleans(), st.none() | st.integers(0, 10**9))
def test_the_parts_of_a_change_are_the_change(amount, billed, by_owner, carried):
    """Property: nothing of a change is lost; what counts is what it costs beyond the gap it prices."""
    seen = savings_book.of_change(amount, billed, by_owner=by_owner, carried_minor=carried)
    assert sum(part.amount_minor for part in seen) == -amount
    counted = sum(part.amount_minor for part in seen if part.kind in savings_book.COUNTED)
    assert counted == -(amount - (carried or 0))


@given(st.lists(st.builds(Part, KINDS, AMOUNTS, AMOUNTS), max_size=12))
def test_every_part_counts_once_or_not_at_all(book):
    """Brute force: each part put into one of four piles."""
    seen = savings_book.totals(book)
    piles = {"bought": 0, "kept": 0, "eats": 0, "beside": 0}
    for part in book:
        kind = part.kind
        pile = (
            "bought"
            if kind == "same for less"
            else "kept"
            if kind in {"scope cut", "lower quality", "spared"}
            else "eats"
        )
        if kind in {"deferral", "moved", "avoided", "carried"}:
            pile = "beside"
        piles[pile] += part.amount_minor
    assert (seen.bought_minor, seen.kept_minor, seen.eaten_minor) == (piles["bought"], piles["kept"], piles["eats"])
    assert seen.net_minor == piles["bought"] + piles["kept"] + piles["eats"]
    assert sum(part.amount_minor for part in seen.by_kind.values()) == sum(piles.values())


SETS = st.lists(st.integers(1, 5), min_size=1, max_size=3, unique=True).map(tuple)
CLAIMED = st.lists(st.builds(Claim, KINDS, AMOUNTS, SETS), max_size=8)
BUDGET = st.lists(st.tuples(AMOUNTS, AMOUNTS, AMOUNTS, AMOUNTS, AMOUNTS), min_size=5, max_size=5).map(
    lambda rows: [LineFigures(key, *row) for key, row in enumerate(rows, 1)]
)


def joined(line: int, claims: list[Claim]) -> set[int]:
    """The lines tied to one, found by going over all entries until nothing is added."""
    found = {line}
    while more := {other for claim in claims if found & set(claim.lines) for other in claim.lines} - found:
        found |= more
    return found


@given(BUDGET, CLAIMED)
def test_lines_that_an_entry_ties_are_proved_together(lines, claims):
    """Brute force: the sets by going over all entries; every line is in one proof, every entry in one proof."""
    proofs = savings_book.prove(lines, claims)
    assert sorted(key for proof in proofs for key in proof.lines) == [1, 2, 3, 4, 5]
    assert all(set(proof.lines) == joined(key, claims) for proof in proofs for key in proof.lines)
    assert [proof.lines[0] for proof in proofs] == sorted(proof.lines[0] for proof in proofs)
    counted = sum(claim.amount_minor for claim in claims if claim.kind in savings_book.COUNTED)
    assert sum(proof.entries_minor for proof in proofs) == counted


@given(BUDGET, CLAIMED)
def test_the_proofs_add_up_to_the_whole_way(lines, claims):
    proofs = savings_book.prove(lines, claims)
    explained = sum(
        proof.entries_minor
        + proof.moved_minor
        - proof.likely_changes_minor
        + proof.plugs_minor
        + proof.unexplained_minor
        for proof in proofs
    )
    assert explained == sum(line.original_minor - line.likely_minor for line in lines)


@given(BUDGET, st.lists(st.tuples(st.integers(1, 5), AMOUNTS), max_size=30))
def test_no_order_of_asking_claims_a_saving_twice(lines, asked):
    """Property: whatever is asked, what is let in never passes what the line saved, and is never of the other sign."""
    claims: list[Claim] = []
    for line, amount in asked:
        if savings_book.may_claim(amount, savings_book.left_to_claim(line, lines, claims)):
            claims.append(Claim("same for less" if amount > 0 else "extra", amount, (line,)))
    for line in lines:
        saved = line.original_minor - line.price_minor
        claimed = sum(claim.amount_minor for claim in claims if claim.lines == (line.line,))
        assert 0 <= claimed <= max(0, saved) or min(0, saved) <= claimed <= 0


def test_a_scope_cut_of_a_change_claims_nothing_of_what_the_line_was_let_for_less():
    let, cut = LineFigures(7, 1_000, 800, 750), Claim("scope cut", 50, (7,), of_change=True)
    assert savings_book.left_to_claim(7, [let], [cut]) == 200
    (proof,) = savings_book.prove([let], [cut, Claim("same for less", 200, (7,))])
    assert proof.unexplained_minor == 0


@given(BUDGET, CLAIMED, st.integers(1, 5))
def test_what_explains_nothing_claims_nothing(lines, claims, line):
    held = [Claim(claim.kind, claim.amount_minor, (1,)) for claim in claims if claim.kind not in savings_book.CLAIMS]
    figures = lines[line - 1]
    assert savings_book.left_to_claim(line, lines, held) == figures.original_minor - figures.price_minor
