"""The calculations that can be had without the web, by name.

Each has a document, which says what may be sent, and a function that turns what was read into plain JSON values. A new
calculation is one more row here.
"""

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from budget.calc import forecast_json, levelling_json
from decisions.calc import compare_json
from schedule.calc import network_json
from units.reading import Document, parse


@dataclass(frozen=True, slots=True)
class Calculation:
    """What may be sent to a calculation, and what works it out."""

    document: Document
    work_out: Callable[[Mapping[str, Any]], dict[str, Any]]


CALCULATIONS: Mapping[str, Calculation] = {
    "levelling": Calculation(levelling_json.DOCUMENT, levelling_json.work_out),
    "forecast": Calculation(forecast_json.DOCUMENT, forecast_json.work_out),
    "network": Calculation(network_json.DOCUMENT, network_json.work_out),
    "compare": Calculation(compare_json.DOCUMENT, compare_json.work_out),
}


def answer(name: str, raw: bytes) -> str:
    """Work out one calculation from JSON to JSON.

    Args:
        name: a key of `CALCULATIONS`.
        raw: the input, UTF-8.
    Returns: one JSON object in ASCII, ending in a line break; the same input gives the same bytes.
    Raises: units.reading.Unreadable.
    """
    calculation = CALCULATIONS[name]
    return written(calculation.work_out(calculation.document.read(parse(raw))))


def written(value: Mapping[str, Any]) -> str:
    """Write a JSON object the way all calculations do."""
    return json.dumps(value, indent=2, allow_nan=False) + "\n"
