"""One good document for each calculation, with every key that may be given."""

import copy
from typing import Any

LEVELLING: dict[str, Any] = {
    "currency": "GBP",
    "items": ["Panels", "Bonding kit"],
    "quotes": [
        {
            "vendor": "North",
            "currency": "USD",
            "rate": 0.79,
            "amounts": {"Panels": 118000, "Bonding kit": "600.00"},
            "discount": "5%",
            "freight": 5900,
            "tax": "8.25%",
        },
        {
            "vendor": "South",
            "currency": "GBP",
            "rate": 1,
            "amounts": {"Panels": 90000, "Bonding kit": None},
            "discount": 250,
            "tax_inside": "20%",
            "extras": [{"name": "duty", "amount": -12.5}],
        },
        {"vendor": "West", "amounts": {"Panels": 99000, "Bonding kit": "included"}},
    ],
    "plug": "highest",
    "plugs": {"Bonding kit": 700},
}
FORECAST: dict[str, Any] = {
    "currency": "GBP",
    "as_of": "2026-11-25",
    "lines": [
        {
            "id": "slab",
            "trade": "concrete",
            "budget": 58700,
            "kind": "work",
            "closed": False,
            "own_forecast": None,
            "quotes": [
                {
                    "id": "Q1",
                    "levelled": 62250,
                    "date": "2026-08-01",
                    "complete": True,
                    "valid_until": "2026-09-30",
                    "preferred": False,
                }
            ],
            "original_quote": "Q1",
            "estimate": 60000,
            "agreed": "51830.00",
            "changes": [{"amount": 1850, "status": "agreed"}, {"amount": 100, "status": "proposed", "chance": 0.5}],
            "gaps": 770,
            "still_to_let": 0,
            "invoiced": 24100,
            "effects": 0,
        },
        {
            "id": "tank",
            "trade": "tanks",
            "budget": 148000,
            "agreed": 133472,
            "invoiced": 40134.72,
            "foreign": [
                {
                    "currency": "EUR",
                    "agreed": 155200,
                    "rate": "0.86",
                    "today": 0.874,
                    "billed": [{"amount": 46560, "cost": "40134.72"}],
                }
            ],
        },
        {"id": "aside", "trade": "general", "budget": 82000, "kind": "contingency"},
    ],
    "transfers": [{"from": "aside", "to": "slab", "amount": 1850}],
    "cost_of_day": 900,
    "risks": [{"id": "R01", "chance": 0.04, "cost": 24000, "days": 9}],
    "funding": [{"name": "Shares", "amount": 300000, "received": 120000}],
    "paid": 64234.72,
}
COMPARE: dict[str, Any] = {
    "currency": "GBP",
    "cost_of_day": 900,
    "original": [{"name": "Plinth", "amount": 49950}],
    "budget": 46800,
    "options": [
        {
            "id": "A",
            "name": "Plinth",
            "items": [{"name": "concrete", "amount": 49950, "shared": False}],
            "days": {"extra": 8, "float": 6},
            "adjust": {"chance": 0.15, "cost": 18500, "days": 14, "float": 6},
            "must_pass": [{"name": "floor load", "value": 5, "at_most": 7.5}],
        },
        {
            "id": "B",
            "name": "Frame on feet",
            "items": [{"name": "steel", "amount": 37450}],
            "effects": [{"name": "design", "amount": 1900}],
            "days": {"extra": 0, "float": 6},
            "adjust": {"axes": [{"allows": 25, "spread": 10}], "cost": 1900, "days": 2},
            "yearly_cost": 360,
            "years": 10,
            "discount": 0.03,
        },
    ],
    "trials": 10000,
    "seed": 1,
}
NETWORK: dict[str, Any] = {
    "start": "2026-06-29",
    "calendars": {
        "trades": {"weekdays": [1, 2, 3, 4, 5], "region": "US", "closed": ["2026-07-06", ["2026-12-21", "2027-01-03"]]},
        "inspector": {"weekdays": [2, 4]},
    },
    "default_calendar": "trades",
    "finish_by": "2026-07-24",
    "data_date": "2026-06-30",
    "activities": [
        {"id": "form", "duration": 3, "started": "2026-06-29"},
        {"id": "survey", "duration": 1, "started": "2026-06-29", "finished": "2026-06-29"},
        {
            "id": "inspect",
            "duration": 1,
            "calendar": "inspector",
            "after": [{"id": "form"}, {"id": "survey", "link": "FS", "lag": 1}],
        },
        {"id": "pour", "duration": 1, "after": [{"id": "inspect"}], "not_before": "2026-07-02"},
        {"id": "cure", "duration": 7, "elapsed": True, "after": [{"id": "pour"}]},
        {"id": "set tank", "duration": 2, "after": [{"id": "cure"}, {"id": "pour", "lag": 5, "lag_elapsed": True}]},
        {"id": "ready", "duration": 0, "after": [{"id": "set tank"}]},
    ],
}
EXAMPLES = {"levelling": LEVELLING, "forecast": FORECAST, "network": NETWORK, "compare": COMPARE}


def example(name: str) -> dict[str, Any]:
    return copy.deepcopy(EXAMPLES[name])


def put(document: Any, path: tuple[str | int, ...], value: Any) -> Any:
    """The document with one place set to a value."""
    place = document
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = value
    return document


def places(value: Any, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """Every place of a document."""
    steps = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [found for step, inner in steps for found in ((*path, step), *places(inner, (*path, step)))]
