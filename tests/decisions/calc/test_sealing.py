"""The seal of a record. Source of the known values: FIPS 180-4 examples ("abc" and the empty text)."""

import json

from hypothesis import given
from hypothesis import strategies as st

from decisions.calc.sealing import canonical, hash_of

VALUES = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**12), 10**12) | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner, max_size=3),
    max_leaves=8,
)


def test_known_hashes():
    assert hash_of("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert hash_of("") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"


@given(st.dictionaries(st.text(max_size=4), VALUES, max_size=4))
def test_it_reads_back_and_does_not_depend_on_order(content: dict):
    text = canonical(content)
    assert json.loads(text) == content
    assert canonical(dict(reversed(content.items()))) == text
