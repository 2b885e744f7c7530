"""What comes first."""

from itertools import permutations

from reports.calc.urgency import place


def test_late_before_soon_before_undated_and_dear_before_cheap() -> None:
    """Worked by hand."""
    rows = [place(None, 500), place(2, 1), place(2, 7), place(-1, 0), place(-9, 0)]
    assert sorted(rows) == [rows[4], rows[3], rows[2], rows[1], rows[0]]


def test_order_does_not_depend_on_the_order_given() -> None:
    rows = [place(None, 90), place(-3, 0), place(0, 90), place(4, 0), place(4, 90)]
    assert {tuple(sorted(mixed)) for mixed in permutations(rows)} == {(rows[1], rows[2], rows[4], rows[3], rows[0])}
