"""Bad input ends with code 2, nothing on standard output, and one line that names the place and the mend."""

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reports.calc_names import answer as worked_out
from tests.reports.calc.examples import EXAMPLES, example, places, put
from units.reading import MOST_BYTES, Unreadable


@pytest.mark.parametrize(
    ("name", "path", "value", "said"),
    [
        (
            "levelling",
            ("quotes", 0, "amounts", "Panels"),
            "lots",
            'quotes[0].amounts.Panels: a number, "included" or null is required',
        ),
        (
            "levelling",
            ("quotes", 0, "amounts", "Panel"),
            5,
            'quotes[0].amounts: "Panel" is none of the items; did you mean "Panels"?',
        ),
        (
            "levelling",
            ("quotes", 0, "amounts", "Panels"),
            "1.005",
            "quotes[0].amounts.Panels: this has 3 decimals; USD has 2",
        ),
        ("levelling", ("quotes", 0, "rate"), 0, "quotes[0].rate: a number above 0 is required"),
        (
            "levelling",
            ("quotes", 0, "rate"),
            None,
            "quotes[0].rate: a number above 0 is required: how many GBP one USD is",
        ),
        (
            "levelling",
            ("quotes", 1, "rate"),
            2,
            "quotes[1].rate: the quote is in GBP like the project, so this is 1 or left out",
        ),
        (
            "levelling",
            ("quotes", 1, "discount"),
            90001,
            "quotes[1].discount: this is more than the priced items come to",
        ),
        ("levelling", ("quotes", 2, "amounts"), {}, None),
        ("levelling", ("items",), [], "items: a list with at least 1 entry is required"),
        ("levelling", ("items",), ["Panels", "Panels"], 'items[1]: "Panels" is there already; each is given once'),
        ("levelling", ("plugs",), {"Roof": 1}, 'plugs: "Roof" is none of the items; known are Panels, Bonding kit'),
        ("levelling", ("plug",), "mean", 'plug: "median" or "highest" is required'),
        ("forecast", ("as_of",), "today", "as_of: a date such as 2026-11-25 is required"),
        (
            "forecast",
            ("lines", 0, "original_quote"),
            "Q2",
            'lines[0].original_quote: "Q2" is none of the line\'s quotes; known are Q1',
        ),
        ("forecast", ("lines", 1, "id"), "slab", 'lines[1].id: "slab" is there already; each is given once'),
        (
            "forecast",
            ("transfers", 0, "to"),
            "roof",
            'transfers[0].to: "roof" is none of the lines; known are slab, tank, aside',
        ),
        (
            "forecast",
            ("transfers", 0, "to"),
            "aside",
            "transfers[0].to: a transfer goes to another line than it comes from",
        ),
        (
            "forecast",
            ("lines", 1, "foreign", 0, "currency"),
            "GBP",
            "lines[1].foreign[0].currency: this is the project's own currency; leave it out here",
        ),
        (
            "forecast",
            ("currency",),
            None,
            "currency: give the project's currency, so that this can be converted to it",
        ),
        (
            "forecast",
            ("lines", 1, "agreed"),
            None,
            "lines[1].agreed: what is agreed in another currency is also given in the project's, as `agreed`",
        ),
        ("forecast", ("transfers", 0, "amount"), 0, "transfers[0].amount: an amount above 0 is required"),
        (
            "forecast",
            ("lines", 0, "changes", 1, "chance"),
            1.5,
            "lines[0].changes[1].chance: a number from 0 to 1 is required",
        ),
        (
            "compare",
            ("network",),
            {"start": "2027-02-01", "activities": [{"id": "slab", "duration": 9}]},
            "options[0].days: days follow from the network; give changes to it instead",
        ),
        (
            "compare",
            ("options", 0, "items", 0, "low"),
            1,
            "options[0].items[0].low: a range needs the simulation, which this version does not have; give an amount",
        ),
        (
            "compare",
            ("options", 0, "changes"),
            {},
            "options[0].changes: changes are made to a network, and none is given; give days with extra and float",
        ),
        (
            "compare",
            ("options", 0, "adjust", "axes"),
            [{"allows": 1, "spread": 1}],
            'options[0].adjust: either "chance" or "axes" is required, and not both',
        ),
        (
            "compare",
            ("options", 1, "adjust", "axes", 0, "spread"),
            0,
            "options[1].adjust.axes[0].spread: a number above 0 is required",
        ),
        (
            "compare",
            ("options", 0, "must_pass", 0, "at_most"),
            None,
            'options[0].must_pass[0]: "at_most" or "at_least" is required',
        ),
        (
            "compare",
            ("options", 0, "must_pass", 0, "at_least"),
            9,
            "options[0].must_pass[0].at_least: this is above at_most, so nothing can pass",
        ),
        (
            "compare",
            ("options", 0, "days", "extra"),
            1.5,
            "options[0].days.extra: a whole number from 0 to 36525 is required",
        ),
    ],
)
def test_a_fault_names_the_place_and_the_mend(calc, refusal, name, path, value, said):
    changed = put(example(name), path, value)
    if said is None:
        assert calc(name, raw=json.dumps(changed).encode())[2] == 0
    else:
        assert refusal(name, changed) == said


def test_two_preferred_quotes_are_refused(refusal):
    first = EXAMPLES["forecast"]["lines"][0]["quotes"][0] | {"preferred": True}
    changed = put(example("forecast"), ("lines", 0, "quotes"), [first, first | {"id": "Q2"}])
    assert (
        refusal("forecast", changed) == "lines[0].quotes[1].preferred: another quote of the line is preferred already"
    )


def test_freight_over_nothing_is_refused(refusal):
    said = "quotes[0].freight: no item is priced, so there is nothing to share this over; price an item"
    assert (
        refusal("levelling", put(put(example("levelling"), ("quotes", 0, "amounts"), {}), ("quotes", 0, "discount"), 0))
        == said
    )


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b"null",
        b"[]",
        b"{",
        b'{"a":NaN}',
        b"\xff",
        b"[" * 10**5,
        b'{"currency":"GBP","currency":"GBP"}',
        b"9" * 10**5,
        b" " * (MOST_BYTES + 1),
        b"{}\x00",
        b'"\\ud800"',
    ],
    ids=lambda raw: repr(raw[:20]),
)
@pytest.mark.parametrize("name", EXAMPLES)
def test_what_is_no_document_is_refused(refusal, name, raw):
    assert refusal(name, raw).startswith("input: ")


@pytest.mark.parametrize(
    "constant", ["NaN", "Infinity", "-Infinity", "1e999", "-1e99999999999999999999", "true", '"1e3"', "[[]]", '""']
)
@pytest.mark.parametrize(
    ("name", "path"), [("levelling", "quotes[0].freight"), ("forecast", "lines[0].budget"), ("compare", "cost_of_day")]
)
def test_what_is_no_amount_is_refused_at_its_place(refusal, name, path, constant):
    steps = {"levelling": ("quotes", 0, "freight"), "forecast": ("lines", 0, "budget"), "compare": ("cost_of_day",)}[
        name
    ]
    raw = json.dumps(put(example(name), steps, "@")).replace('"@"', constant)
    assert refusal(name, raw.encode()).startswith(f"{path}: ")


WRONG = [
    None,
    True,
    -1,
    0,
    10**400,
    1.5,
    float("nan"),
    float("inf"),
    "",
    "x",
    "\x1b[31m\n",
    "a" * 10**4,
    [],
    {},
    [[]],
    {"": {}},
    "included",
    "5%",
    "2026-13-45",
]


@pytest.mark.parametrize("name", EXAMPLES)
def test_one_wrong_value_anywhere_is_worked_out_or_refused_on_one_line(calc, name):
    """Each place of the document in turn is set to each wrong value: some are right there, the others are refused."""
    refused = 0
    for path in places(EXAMPLES[name]):
        for value in WRONG:
            out, err, code = calc(name, raw=json.dumps(put(example(name), path, value)).encode())
            refused += code == 2
            assert (code, err) == (0, "") if out else (code, err.count("\n"), err.isascii()) == (2, 1, True), (
                path,
                value,
                err,
            )
            assert "\x1b" not in err
    assert refused > len(places(EXAMPLES[name])) * len(WRONG) // 2


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_key_left_out_is_worked_out_or_refused_on_one_line(calc, name):
    for path in places(EXAMPLES[name]):
        document = example(name)
        holder = document
        for step in path[:-1]:
            holder = holder[step]
        del holder[path[-1]]
        out, err, code = calc(name, raw=json.dumps(document).encode())
        assert (code, err) == (0, "") if out else (code, err.count("\n")) == (2, 1), path


@settings(max_examples=150)
@given(data=st.data())
def test_whatever_is_sent_there_is_no_traceback(data):
    name = data.draw(st.sampled_from(sorted(EXAMPLES)))
    document = example(name)
    wrong = st.recursive(
        st.sampled_from(WRONG) | st.floats() | st.integers() | st.text(max_size=5),
        lambda inner: st.lists(inner, max_size=3),
    )
    for path in data.draw(st.lists(st.sampled_from(places(document)), max_size=4)):
        try:
            put(document, path, data.draw(wrong))
        except (KeyError, IndexError, TypeError):
            continue  # an earlier change took the place away
    try:
        json.loads(worked_out(name, json.dumps(document).encode()))
    except Unreadable as fault:
        assert str(fault).isprintable()
