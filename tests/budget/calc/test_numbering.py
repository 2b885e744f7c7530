import re
from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from budget.calc.numbering import LookAlike, Numbered, looks_alike, misread, near_pattern, number_key, resemblance

DAY = date(2027, 1, 22)
FIRST = Numbered("Quarry", "Q-100", "Slab", 5000, DAY)
TEXTS = st.text(st.sampled_from("AbZ0019 -/._"), min_size=1, max_size=12)


def bill(number="Q-999", *, days=0, net=5000, line="Slab", vendor="Quarry"):
    return Numbered(vendor, number, line, net, DAY + timedelta(days=days))


@pytest.mark.parametrize(("days", "alike"), [(0, True), (14, True), (-14, True), (15, False)])
def test_the_same_amount_on_a_line_is_doubted_for_two_weeks(days, alike):
    """Common practice, no source."""
    assert looks_alike(FIRST, bill(days=days)) is alike


@pytest.mark.parametrize("other", [bill(net=5001), bill(line="Wall"), bill(vendor="Pit"), bill("Q-100A", net=-5000)])
def test_another_amount_line_vendor_or_a_credit_does_not_look_alike(other):
    assert not looks_alike(FIRST, other)


def test_a_near_number_is_doubted_whatever_the_amount():
    assert resemblance(FIRST, bill("q100 b", days=40, net=7)) == LookAlike("Q-100", 40, False)
    assert resemblance(FIRST, bill("Q-101", net=7)) is None


@pytest.mark.parametrize(
    ("one", "other", "alike"),
    [
        ("100A", "100B", True),
        ("100A", "1B0A", False),
        ("AB1", "CD1", False),
        ("100A", "100BC", False),
        ("100", "1001", False),
    ],
)
def test_one_other_letter_is_near_and_a_digit_is_not(one, other, alike):
    assert looks_alike(bill(one), bill(other, net=7)) is alike


def test_how_a_bill_resembles_an_earlier_one_is_told():
    assert resemblance(FIRST, bill(days=-3)) == LookAlike("Q-100", 3, True)
    assert resemblance(FIRST, bill("Q-100A", line="Wall")) == LookAlike("Q-100", 0, False)


def test_a_bill_of_nothing_is_no_credit():
    assert looks_alike(FIRST, bill("Q 100", net=0))


def test_three_letters_behind_a_number_are_more_than_a_suffix():
    assert looks_alike(FIRST, bill("Q-100AB", net=7))
    assert not looks_alike(FIRST, bill("Q-100ABC", net=7))


@given(TEXTS)
def test_a_key_is_its_own_key_and_never_longer(text):
    key = number_key(text)
    assert number_key(key) == key and 0 < len(key) <= len(text) or not text.strip()


@given(TEXTS, st.sampled_from(" -/._"), st.integers(0, 12))
def test_case_and_marks_do_not_make_another_number(text, mark, place):
    if any(sign.isalnum() for sign in text):
        assert number_key(text) == number_key(text.swapcase()) == number_key(text[:place] + mark + text[place:])


@given(TEXTS.filter(lambda text: re.search("[A-Za-z0-9]", text)))
def test_a_key_agrees_with_reading_sign_by_sign(text):
    """An independent way: letters as they are, and of digits none before the first that counts."""
    bare = re.sub("[^a-z0-9]", "", text.lower())
    runs = re.findall("[a-z]+|[0-9]+", bare)
    assert number_key(text) == "".join(run if run.isalpha() else str(int(run)) for run in runs)


@given(st.integers(0, 10**7), st.integers(0, 10**7))
def test_a_slip_agrees_with_trying_every_slip(one, other):
    assert misread(one, other) == (str(other) in slips(str(one)))


@given(st.integers(10, 10**7), st.data())
def test_every_slip_is_found(amount, data):
    slip = data.draw(st.sampled_from(sorted(slips(str(amount)))))
    assert slip.startswith("0") or misread(amount, int(slip))


def slips(text):
    """Every text that is one wrong digit, or two neighbours changed, away."""
    single = {text[:n] + digit + text[n + 1 :] for n in range(len(text)) for digit in "0123456789"}
    swaps = {text[:n] + b + a + text[n + 2 :] for n, (a, b) in enumerate(pairwise(text))}
    return (single | swaps) - {text}


@given(st.builds(bill, TEXTS, days=st.integers(-20, 20), net=st.sampled_from([-5, 5, 6])),
       st.builds(bill, TEXTS, days=st.integers(-20, 20), net=st.sampled_from([-5, 5, 6])))  # fmt: skip
def test_looking_alike_goes_both_ways(one, other):
    assert looks_alike(one, other) == looks_alike(other, one)


@given(TEXTS, TEXTS, st.sampled_from(["", "A", "Bc", "\u00e4"]))
def test_the_pattern_of_a_number_fits_whatever_is_near_it(one, other, behind):
    """What the database is asked for holds everything that the rule would find among all invoices."""
    for near in (other, one + behind, behind + one, one.replace("A", "q"), one.replace("b", "Z")):
        if near and looks_alike(bill(one), bill(near, net=7)):
            assert re.search(near_pattern(one), number_key(near)) and re.search(near_pattern(near), number_key(one))


@pytest.mark.parametrize("far", ["VM-1188", "VM-11870", "V-1187", "VM-1187ABCD", "1187"])
def test_the_pattern_leaves_other_numbers_out(far):
    assert not re.search(near_pattern("VM-1187A"), number_key(far))
