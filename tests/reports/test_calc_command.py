import io
import json
import subprocess
import sys
from decimal import Decimal
from pathlib import Path

import pytest
from django.core.management import execute_from_command_line
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.reports.calc_examples import EXAMPLES, example, places, put
from tests.worked_tables import table
from units.reading import MOST_BYTES

ROOT = Path(__file__).resolve().parents[2]


class Standard:
    """Standard input as a command sees it: text with bytes below."""

    def __init__(self, raw):
        self.buffer = io.BytesIO(raw)


def run(monkeypatch, *arguments, raw=b""):
    """What the command writes on both outputs, and its exit code."""
    out, err = io.StringIO(), io.StringIO()
    with monkeypatch.context() as patched:
        for name, stream in (("stdin", Standard(raw)), ("stdout", out), ("stderr", err)):
            patched.setattr(sys, name, stream)
        try:
            execute_from_command_line(["manage.py", "calc", *arguments])
            code = 0
        except SystemExit as stop:
            code = stop.code
    return out.getvalue(), err.getvalue(), code


@pytest.fixture
def calc(monkeypatch):
    return lambda *arguments, raw=b"": run(monkeypatch, *arguments, raw=raw)


@pytest.fixture
def answer(calc):
    def asked(name, document):
        out, err, code = calc(name, raw=json.dumps(document).encode())
        assert (err, code) == ("", 0)
        return json.loads(out)

    return asked


@pytest.fixture
def refusal(calc):
    def asked(name, document):
        raw = document if isinstance(document, bytes) else json.dumps(document).encode()
        out, err, code = calc(name, raw=raw)
        assert (out, code, err.count("\n")) == ("", 2, 1)
        return err.removesuffix("\n").removeprefix(f"batterboard: calc {name}: ")

    return asked


def test_calc_alone_lists_the_names_a_line_each(calc):
    assert calc() == ("levelling\nforecast\ncompare\n", "", 0)


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_file_and_standard_input_give_the_same_bytes(calc, tmp_path, name):
    raw = json.dumps(example(name)).encode()
    (tmp_path / "input.json").write_bytes(raw)
    from_file, from_input = calc(name, str(tmp_path / "input.json")), calc(name, raw=raw)
    assert from_file == from_input == calc(name, "-", raw=raw)
    assert from_file[2] == 0
    assert from_file[0].endswith("}\n")


def test_it_runs_as_a_program_of_its_own():
    done = subprocess.run(
        [sys.executable, "manage.py", "calc", "compare"],
        cwd=ROOT,
        input=json.dumps(example("compare")),
        capture_output=True,
        text=True,
    )
    assert (done.returncode, done.stderr, json.loads(done.stdout)["best"]) == (0, "", "B")


def test_bad_input_ends_with_two_and_one_line():
    done = subprocess.run(
        [sys.executable, "manage.py", "calc", "compare"], cwd=ROOT, input="{}", capture_output=True, text=True
    )
    said = "batterboard: calc compare: options: a list with at least 1 entry is required, and nothing is given\n"
    assert (done.returncode, done.stdout, done.stderr) == (2, "", said)


def test_levelling_gives_what_it_promises(answer):
    found = answer("levelling", example("levelling"))
    assert list(found) == ["quotes", "spread", "flip", "items"]
    assert [list(row) for row in found["quotes"]][0] == [
        "vendor",
        "quoted",
        "levelled",
        "items",
        "gaps",
        "complete",
        "rank",
    ]
    south = found["quotes"][1]
    assert south["items"] == {
        "Panels": {"amount": "74791.67", "plug": False},
        "Bonding kit": {"amount": "700.00", "plug": True},
    }
    assert (south["quoted"], south["extras"], south["levelled"], south["gaps"]) == (
        "90000.00",
        "-12.50",
        "75479.17",
        ["Bonding kit"],
    )


def test_levelling_takes_the_worked_quotes(answer):
    marks = {"incl.": "included", "out": None, "0": 0}
    items = ["Panels", "Freight crate", "Bonding kit", "Works check"]
    quotes = [
        {
            "vendor": row["vendor"],
            "currency": row["currency"],
            "rate": float(row["rate"]),
            "amounts": {item: marks.get(row[item], row[item]) for item in items},
            **{key: marks.get(row[key], row[key]) for key in ("discount", "freight", "tax")},
        }
        for row in table("levelling.md", "As given")
    ]
    found = answer("levelling", {"currency": "GBP", "items": items, "quotes": quotes})
    for got, row in zip(found["quotes"], table("levelling.md", "Levelled"), strict=True):
        assert (got["quoted"], got["levelled"], str(got["rank"])) == (row["quoted"], row["levelled"], row["rank"])
        assert {item: figure["amount"] for item, figure in got["items"].items()} == {item: row[item] for item in items}
    assert found["spread"] == "11893.62"


def test_forecast_gives_what_it_promises(answer):
    found = answer("forecast", example("forecast"))
    assert found["lines"] == [
        {
            "id": "slab",
            "state": "invoiced",
            "likely_final": "54500.00",
            "over_budget": "-4200.00",
            "against_original_quote": "-7750.00",
        },
        {
            "id": "aside",
            "state": "unquoted",
            "likely_final": "80150.00",
            "over_budget": "-1850.00",
            "against_original_quote": None,
        },
    ]
    assert found["contingency"] == {"start": "82000.00", "drawn": "1850.00", "left": "80150.00", "uncovered": "0.00"}
    assert [row["trade"] for row in found["by_trade"]] == ["concrete", "general"]
    steps = sum(Decimal(step["amount"]) for step in found["bridge"])
    assert (
        Decimal(found["totals"]["budget"]) + steps == Decimal(found["totals"]["likely_final"]) == Decimal("134650.00")
    )


def test_compare_gives_what_it_promises(answer):
    found = answer("compare", example("compare"))
    plinth = found["options"][0]
    assert (plinth["first_cost"], plinth["days_later"], plinth["float_used"], plinth["cost_of_days"]) == (
        "49950.00",
        2,
        6,
        "1800.00",
    )
    assert (plinth["chance_of_correction"], plinth["correction"], plinth["expected_total"]) == (
        0.15,
        "3855.00",
        "55605.00",
    )
    assert plinth["range"] == {"p10": "55605.00", "p50": "55605.00", "p90": "55605.00"}
    assert (plinth["finish"], plinth["passes"], plinth["chance_cheapest"]) == (None, True, 0)
    assert (found["best"], found["worth_of_certainty"]) == ("B", "0.00")
    assert {"option": "B", "input": "items[0].amount", "now": "37450.00", "flips_at": "50610.53"} in found["flips"]


def test_amounts_come_out_with_the_currencys_digits(answer):
    yen = {
        "currency": "JPY",
        "items": ["a"],
        "quotes": [{"vendor": "P", "currency": "KWD", "rate": 480.5, "amounts": {"a": "1.005"}}],
    }
    assert answer("levelling", yen)["quotes"][0]["levelled"] == "483"
    assert answer("forecast", example("forecast") | {"currency": None})["totals"]["budget"] == "140700.00"


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_schema_describes_the_example(calc, name):
    out, err, code = calc(name, "--schema")
    schema = json.loads(out)
    assert (err, code, schema["type"]) == ("", 0, "object")
    assert set(EXAMPLES[name]) <= set(schema["properties"])
    assert set(schema["required"]) <= set(EXAMPLES[name])


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
            'transfers[0].to: "roof" is none of the lines; known are slab, aside',
        ),
        (
            "forecast",
            ("transfers", 0, "to"),
            "aside",
            "transfers[0].to: a transfer goes to another line than it comes from",
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
            {},
            "network: a network is not worked out in this version; give days with extra and float per option",
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
            "options[0].changes: a network is not worked out in this version; give days with extra and float",
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
    from reports.calc_names import answer as worked_out
    from units.reading import Unreadable

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


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["levling"], 'batterboard: calc: no calculation is called "levling"; did you mean "levelling"?\n'),
        (
            ["x\n\x1b[0m"],
            'batterboard: calc: no calculation is called "x??[0m"; known are levelling, forecast, compare\n',
        ),
        (["--schema"], "batterboard: calc: the name of a calculation is required: levelling, forecast, compare\n"),
        (
            ["compare", "/nowhere/at/all"],
            "batterboard: calc compare: input: /nowhere/at/all cannot be read (No such file or directory)\n",
        ),
        (["compare", "."], "batterboard: calc compare: input: . cannot be read (Is a directory)\n"),
        (["compare", "a\0b"], "batterboard: calc compare: input: a?b cannot be read (not a name of a file)\n"),
    ],
)
def test_wrong_arguments_are_told_on_one_line(calc, arguments, said):
    assert calc(*arguments) == ("", said, 2)


@pytest.mark.parametrize("arguments", [["compare", "--nonsense"], ["compare", "a", "b"]])
def test_unknown_arguments_are_told_on_one_line(calc, arguments):
    out, err, code = calc(*arguments)
    assert (out, err.count("\n"), code) == ("", 1, 2)
    assert err.startswith("batterboard: calc: unrecognized arguments: ")


def test_large_documents_are_worked_out(answer):
    quote = {"id": "q", "levelled": 5, "date": "2026-01-01"}
    lines = [{"id": str(n), "trade": str(n % 20), "budget": n, "quotes": [quote]} for n in range(5000)]
    assert answer("forecast", {"as_of": "2026-11-25", "lines": lines})["totals"]["likely_final"] == "25000.00"


def test_too_large_a_list_is_refused_before_it_is_worked_out(refusal):
    lines = [{"id": str(n), "trade": "t", "budget": n} for n in range(20_001)]
    assert (
        refusal("forecast", {"as_of": "2026-11-25", "lines": lines})
        == "lines: at most 20000 entries are read, and 20001 are given"
    )
