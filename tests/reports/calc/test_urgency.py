"""What comes first, and what is odd about a line's quotes."""

from fractions import Fraction
from itertools import permutations

from hypothesis import given
from hypothesis import strategies as st

from reports.calc.urgency import Priced, far_under, place, turned

QUOTES = st.lists(
    st.builds(Priced, st.sampled_from("abc"), st.integers(0, 10**7), st.integers(0, 10**7), st.booleans()), max_size=6
)


def test_late_before_soon_before_undated_and_dear_before_cheap() -> None:
    """Worked by hand."""
    rows = [place(None, 500), place(2, 1), place(2, 7), place(-1, 0), place(-9, 0)]
    assert sorted(rows) == [rows[4], rows[3], rows[2], rows[1], rows[0]]


def test_order_does_not_depend_on_the_order_given() -> None:
    rows = [place(None, 90), place(-3, 0), place(0, 90), place(4, 0), place(4, 90)]
    assert {tuple(sorted(mixed)) for mixed in permutations(rows)} == {(rows[1], rows[2], rows[4], rows[3], rows[0])}


def test_the_worked_panels_turn_round() -> None:
    """Three panels of the demo: 76,156 bills lowest and comes to 92,059.64; 89,870 comes to 91,850."""
    low, won = Priced("low", 7615600, 9205964, True), Priced("won", 8987000, 9185000, True)
    assert turned([low, won, Priced("dear", 10190000, 10190000, True)]) == (low, won)


def test_nothing_turns_where_the_lowest_stays_lowest() -> None:
    assert turned([Priced("a", 1, 2, True), Priced("b", 2, 3, True)]) is None


def test_an_incomplete_lowest_is_told_of() -> None:
    bare, whole = Priced("bare", 1, 1, False), Priced("whole", 2, 2, True)
    assert turned([bare, whole]) == (bare, whole)


@given(QUOTES)
def test_turned_agrees_with_looking_at_every_pair(quotes: list[Priced]) -> None:
    """Oracle: some quote bills less than every best levelled one, and is beaten by it or incomplete."""
    whole = [quote for quote in quotes if quote.complete]
    best = min((quote.levelled_minor for quote in whole), default=None)
    found = turned(quotes)
    if found is None:
        winners = [quote for quote in whole if quote.levelled_minor == best]
        lowest = min((quote.net_minor for quote in quotes), default=0)
        cheapest = [quote for quote in quotes if quote.net_minor == lowest]
        assert not whole or any(q.net_minor <= lowest for q in winners) or any(q in winners for q in cheapest)
    else:
        looked, won = found
        assert looked.net_minor < won.net_minor and won.levelled_minor == best
        assert not looked.complete or looked.levelled_minor > won.levelled_minor


def test_fifteen_percent_is_not_more_than_fifteen() -> None:
    """Worked by hand: the middle of 85, 100, 104 is 100; 85 lies exactly 15 % under it."""
    rows = [Priced(str(amount), amount, amount, True) for amount in (85, 100, 104)]
    assert far_under(rows) == []
    rows[0] = Priced("84", 84, 84, True)
    assert far_under(rows) == [(rows[0], Fraction(16, 100))]


def test_two_quotes_have_no_middle_to_speak_of() -> None:
    assert far_under([Priced("a", 1, 1, True), Priced("b", 100, 100, True)]) == []


@given(QUOTES)
def test_what_is_far_under_is_below_the_middle_of_the_complete(quotes: list[Priced]) -> None:
    """Property: at most half of the complete quotes lie under their middle."""
    whole = [quote for quote in quotes if quote.complete]
    assert len(far_under(quotes)) <= len(whole) / 2
