"""Who leads, and what is nearest to changing it. Our rule (ADR 0107); the oracle is a search over every order."""

from decimal import Decimal
from fractions import Fraction
from itertools import permutations

from hypothesis import given
from hypothesis import strategies as st

from decisions.calc.ranking import Entrant, nearness, rank

ENTRANTS = st.lists(st.tuples(st.integers(-10, 10), st.booleans()), max_size=5).map(
    lambda rows: [Entrant("ABCDE"[place], total, barred) for place, (total, barred) in enumerate(rows)]
)


def test_the_tank_of_the_worked_example():
    """Figures of the demo's first decision, worked by hand: 55,605, 43,520, 49,690, 46,690."""
    found = rank([Entrant(k, t) for k, t in (("A", 55605), ("B", 43520), ("C", 49690), ("D", 46690))])
    assert (found.best, found.next, found.margin_minor, found.barred_cheaper) == ("B", "D", 3170, None)


def test_a_barred_one_is_named_only_where_it_is_cheaper():
    assert rank([Entrant("A", 5), Entrant("B", 4, barred=True)]).barred_cheaper == "B"
    assert rank([Entrant("A", 5), Entrant("B", 6, barred=True)]).barred_cheaper is None
    assert rank([Entrant("A", 5, barred=True)]).best is None


@given(ENTRANTS)
def test_it_agrees_with_a_search_over_every_order(entrants: list[Entrant]):
    free = [row for row in entrants if not row.barred]
    in_order = [
        order
        for order in permutations(free)
        if all((a.total_minor, a.key) <= (b.total_minor, b.key) for a, b in zip(order, order[1:], strict=False))
    ]
    keys = [row.key for row in in_order[0]] + [None, None]
    found = rank(entrants)
    assert [found.best, found.next] == keys[:2]


@given(st.integers(-1000, 1000), st.integers(-1000, 1000))
def test_nearness_is_symmetric_and_within_its_range(now: int, at: int):
    assert nearness(now, at) == nearness(at, now) == nearness(-now, -at)
    assert 0 <= nearness(now, at) <= 2
    assert (nearness(now, at) == 0) == (now == at)


def test_nearness_of_chances():
    assert nearness(Decimal("0.1"), Decimal("0.2")) == Fraction(1, 2)
