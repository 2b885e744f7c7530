import json
from decimal import Decimal
from types import MappingProxyType

import pytest
from hypothesis import given
from hypothesis import strategies as st

from units.reading import MOST_BYTES, Document, Field, Record, Rows, Table, Unreadable, parse, shown
from units.shapes import Amount, Currency, Number, Text

QUOTE = Record(
    {
        "vendor": Field(Text()),
        "currency": Field(Currency(), default=None, or_null=True, sets=("quote",)),
        "price": Field(Amount(scope_name="quote")),
    }
)
DOCUMENT = Document(
    "quotes",
    Record(
        {
            "currency": Field(Currency(), sets=("currency", "quote")),
            "quotes": Field(Rows(QUOTE, least=1, most=3, unique="vendor")),
            "plugs": Field(Table(Amount(), most=2), default={}),
            "chance": Field(Number(Decimal(0), Decimal(1)), default=Decimal(1)),
        }
    ),
)
GOOD = {
    "currency": "GBP",
    "quotes": [{"vendor": "P", "currency": "JPY", "price": 500}, {"vendor": "Q", "price": "5.25"}],
}


def fault(value):
    with pytest.raises(Unreadable) as caught:
        DOCUMENT.read(value)
    return str(caught.value)


def test_amounts_are_read_in_the_currency_of_the_record_around_them():
    read = DOCUMENT.read(GOOD)
    assert [quote["price"] for quote in read["quotes"]] == [500, 525]


def test_what_is_read_is_frozen():
    read = DOCUMENT.read(GOOD)
    assert isinstance(read, MappingProxyType)
    assert isinstance(read["quotes"], tuple)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"currency": None}, "currency: a currency code such as EUR is required; this is none"),
        ({"currency": "gbp"}, 'currency: a currency code such as EUR is required; "gbp" is none'),
        ({"quotes": []}, "quotes: a list with at least 1 entry is required"),
        ({"quotes": {}}, "quotes: a list with at least 1 entry is required"),
        ({"quotes": [3]}, "quotes[0]: an object is required"),
        ({"quotes": GOOD["quotes"] * 2}, "quotes: at most 3 entries are read, and 4 are given"),
        ({"quotes": [GOOD["quotes"][1]] * 2}, 'quotes[1].vendor: "Q" is there already; each is given once'),
        (
            {"quotes": [{"vendor": "P", "currency": "JPY", "price": 0.5}]},
            "quotes[0].price: this has 1 decimals; JPY has 0",
        ),
        ({"quotes": [{"vendor": "P"}]}, "quotes[0].price: an amount of 0 or more is required, and nothing is given"),
        ({"quotes": [{"vendor": "P", "prize": 1}]}, 'quotes[0]: "prize" is not known here; did you mean "price"?'),
        ({"plugs": {"Bars": True}}, "plugs.Bars: a number is required"),
        ({"plugs": {"a": 1, "b": 1, "c": 1}}, "plugs: at most 2 entries are read, and 3 are given"),
        ({"plugs": [1]}, "plugs: an object is required"),
        ({"chance": 2}, "chance: a number from 0 to 1 is required"),
        ({"zzz": 1}, 'input: "zzz" is not known here; known are currency, quotes, plugs, chance'),
    ],
)
def test_a_fault_names_the_place_and_the_mend(change, said):
    assert fault(GOOD | change) == said


def test_a_left_out_key_is_told_apart_from_a_wrong_one():
    assert fault({"currency": "GBP"}) == "quotes: a list with at least 1 entry is required, and nothing is given"
    assert fault([]) == "input: an object is required"


def test_the_schema_follows_from_the_same_description():
    schema = DOCUMENT.schema()
    assert schema["$schema"].endswith("2020-12/schema")
    assert schema["required"] == ["currency", "quotes"]
    assert schema["additionalProperties"] is False
    assert schema["properties"]["quotes"]["minItems"] == 1
    assert json.loads(json.dumps(schema)) == schema


@pytest.mark.parametrize(
    ("raw", "said"),
    [
        (b"", "input: JSON is required; line 1, column 1: Expecting value"),
        (b'{"a": 1,\n}', "input: JSON is required; line 2, column 1: "),
        (b'{"a": 1, "b": 2, "a": 3}', 'input: the key "a" stands twice in one object; keep one'),
        (b"\xff\xfe", "input: text in UTF-8 is required; byte 0 is none"),
        (b"[" * 200_000, "input: the brackets are nested too deep"),
        (b" " * (MOST_BYTES + 1), "input: at most 16 MB are read"),
    ],
)
def test_text_that_is_no_json_is_refused(raw, said):
    with pytest.raises(Unreadable) as caught:
        parse(raw)
    assert str(caught.value).startswith(said)


def test_numbers_are_parsed_without_losing_a_digit():
    read = parse("\ufeff[0.10, 9007199254740993, 1e-7, 1E999999999999999999999]".encode())
    assert read[:3] == [Decimal("0.10"), 9007199254740993, Decimal("1E-7")]
    assert read[3] == float("inf")


def test_a_number_of_very_many_digits_does_no_harm():
    read = parse(b"9" * 100_000)
    with pytest.raises(Unreadable, match="at most 1000000000000000"):
        Amount().read(read, {})


@given(st.text(max_size=200))
def test_what_is_shown_is_one_printable_line(text):
    line = shown(text)
    assert line.isprintable()
    assert len(line) <= 61


values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8) | st.sampled_from(["GBP", "5.25"]),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from([*GOOD, "vendor", "price", "x"]), inner, max_size=4)
    ),
)


@given(values)
def test_whatever_is_sent_is_read_or_refused_in_words(value):
    try:
        DOCUMENT.read(value)
    except Unreadable as caught:
        assert str(caught).isprintable()


@given(st.sampled_from(["currency", "quotes", "plugs", "chance"]), values)
def test_one_wrong_value_in_a_good_document_is_read_or_refused_at_its_place(key, value):
    try:
        DOCUMENT.read(GOOD | {key: value})
    except Unreadable as caught:
        assert caught.place.startswith(key)
