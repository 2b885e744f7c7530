import json
import subprocess
import sys
from decimal import Decimal
from pathlib import Path

import pytest

from tests.reports.calc.examples import EXAMPLES, example
from tests.worked_tables import table

ROOT = Path(__file__).resolve().parents[3]


def test_calc_alone_lists_the_names_a_line_each(calc):
    assert calc() == ("levelling\nforecast\nnetwork\ncompare\n", "", 0)


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


def test_a_reader_that_stops_early_is_no_fault(tmp_path):
    many = example("compare")["options"][:1] * 100
    document = {"options": [{**option, "id": str(n)} for n, option in enumerate(many)]}
    (tmp_path / "many.json").write_text(json.dumps(document))
    command = [sys.executable, "manage.py", "calc", "compare", str(tmp_path / "many.json")]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as running:
        running.stdout.close()
        said = running.stderr.read()
    assert (running.returncode, said) == (0, b"")


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
            "currency_movement": "0.00",
        },
        {
            "id": "tank",
            "state": "invoiced",
            "likely_final": "135086.08",  # 93.12 dearer when billed, 108,640.00 EUR still to be billed 0.014 dearer
            "over_budget": "-12913.92",
            "against_original_quote": None,
            "currency_movement": "1614.08",
        },
        {
            "id": "aside",
            "state": "unquoted",
            "likely_final": "80150.00",
            "over_budget": "-1850.00",
            "against_original_quote": None,
            "currency_movement": "0.00",
        },
    ]
    assert found["contingency"] == {"start": "82000.00", "drawn": "1850.00", "left": "80150.00", "uncovered": "0.00"}
    assert found["cover"] == {"open_risk": "1284.00", "spread": "0.00", "ratio": "62.42", "signal": "well"}
    assert found["funds"] == {
        "promised": "300000.00", "cost_to_complete": "125351.36", "undrawn": "180000.00", "in_hand": "55765.28", "room": "110413.92",
    }  # fmt: skip
    assert [row["trade"] for row in found["by_trade"]] == ["concrete", "tanks", "general"]
    steps = sum(Decimal(step["amount"]) for step in found["bridge"])
    assert (
        Decimal(found["totals"]["budget"]) + steps == Decimal(found["totals"]["likely_final"]) == Decimal("269736.08")
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
    plain = example("forecast") | {"currency": None}
    del plain["lines"][1]["foreign"]
    assert answer("forecast", plain)["totals"]["budget"] == "288700.00"


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_schema_describes_the_example(calc, name):
    out, err, code = calc(name, "--schema")
    schema = json.loads(out)
    assert (err, code, schema["type"]) == ("", 0, "object")
    assert set(EXAMPLES[name]) <= set(schema["properties"])
    assert set(schema["required"]) <= set(EXAMPLES[name])


def keys(schema):
    """Every key that a schema knows."""
    below = [inner for part in ("anyOf",) for inner in schema.get(part, ())]
    below += [inner for part in ("items", "additionalProperties") if isinstance(inner := schema.get(part), dict)]
    named = schema.get("properties", {})
    return set(named).union(*(keys(inner) for inner in [*below, *named.values()]))


def section(name):
    return (ROOT / "docs" / "calc.md").read_text("utf-8").split(f"## {name}: ", 1)[1].split("\n## ", 1)[0]


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_key_is_documented(calc, name):
    schema = json.loads(calc(name, "--schema")[0])
    found, page = keys(schema), section(name)
    if "network" in schema["properties"]:  # told once, in the section of its own
        page += section("network")
    assert len(found) > 10
    assert {key for key in found if f"`{key}`" not in page} == set()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["levling"], 'batterboard: calc: no calculation is called "levling"; did you mean "levelling"?\n'),
        (
            ["x\n\x1b[0m"],
            'batterboard: calc: no calculation is called "x??[0m"; known are levelling, forecast, network, compare\n',
        ),
        (
            ["--schema"],
            "batterboard: calc: the name of a calculation is required: levelling, forecast, network, compare\n",
        ),
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
