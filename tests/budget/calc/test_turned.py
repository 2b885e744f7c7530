"""The lowest as given against the lowest levelled."""

from hypothesis import given
from hypothesis import strategies as st

from budget.calc.levelling import LevelledQuote, turned


def quote(key: str, given: int, levelled: int, complete: bool = True) -> LevelledQuote:
    return LevelledQuote(key, given, levelled, {}, 0, (), complete, 0)


QUOTES = st.lists(st.builds(quote, st.just("q"), st.integers(0, 50), st.integers(0, 50), st.booleans()), max_size=6)


def test_the_worked_panels_turn_round() -> None:
    """Three panels of the invented demo: 76,156 is lowest as given and comes to 92,059.64; 89,870 comes to 91,850."""
    low, won = quote("low", 7615600, 9205964), quote("won", 8987000, 9185000)
    assert turned([low, won, quote("dear", 10190000, 10190000)]) == (low, won)


def test_nothing_turns_where_the_lowest_stays_lowest() -> None:
    assert turned([quote("a", 1, 2), quote("b", 2, 3)]) is None


def test_an_incomplete_lowest_is_told_of() -> None:
    bare, whole = quote("bare", 1, 1, complete=False), quote("whole", 2, 2)
    assert turned([bare, whole]) == (bare, whole)


@given(QUOTES)
def test_it_agrees_with_looking_at_every_quote(quotes: list[LevelledQuote]) -> None:
    """Oracle: the cheapest as given, at its best, is not among those that nothing beats once levelled."""
    unbeaten = [
        q
        for q in quotes
        if not any((not o.complete, o.levelled_minor) < (not q.complete, q.levelled_minor) for o in quotes)
    ]
    lowest = [q for q in quotes if q.quoted_minor == min(o.quoted_minor for o in quotes)]
    turns = bool(quotes) and not any(q in unbeaten for q in lowest)
    assert (turned(quotes) is not None) == turns
