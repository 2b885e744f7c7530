"""The comparison as a JSON document: what may be sent, and what comes back. The formulas are in `compare`."""

from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from functools import partial
from typing import Any

from decisions.calc import compare, flips, in_plan
from schedule.calc import alter_json, network_json
from schedule.calc.alter import Alteration
from schedule.calc.network import BadNetwork
from units import money
from units.reading import Document, Field, Record, Rows, Unreadable
from units.shapes import Amount, Currency, Flag, Fraction1, NotYet, Number, Text, Whole

_NO_RANGE = Field(
    NotYet("a range needs the simulation, which this version does not have; give an amount"), default=None, or_null=True
)
_DAYS = Field(Whole(0, flips.MOST_DAYS), default=0, or_null=True)
_LENGTH = Decimal(10) ** 9
_ITEM = Record(
    {
        "name": Field(Text()),
        "low": _NO_RANGE,
        "likely": _NO_RANGE,
        "high": _NO_RANGE,
        "amount": Field(Amount()),
        "shared": Field(Flag(), default=False),
    }
)
_NAMED_AMOUNT = Record({"name": Field(Text()), "amount": Field(Amount(signed=True))})
_AXIS = Record({"allows": Field(Number(Decimal(0), _LENGTH)), "spread": Field(Number(above=Decimal(0), high=_LENGTH))})


def _check_adjust(read: Mapping[str, Any]) -> None:
    if (read["chance"] is None) == (read["axes"] is None):
        raise Unreadable('either "chance" or "axes" is required, and not both')


def _check_bounds(read: Mapping[str, Any]) -> None:
    low, high = read["at_least"], read["at_most"]
    if low is None and high is None:
        raise Unreadable('"at_most" or "at_least" is required')
    if low is not None and high is not None and low > high:
        raise Unreadable("this is above at_most, so nothing can pass", ("at_least",))


def _check_days(read: Mapping[str, Any]) -> None:
    """With a network days follow from changes to it; without one they are given."""
    barred, mend = (
        ("changes", "changes are made to a network, and none is given; give days with extra and float")
        if read["network"] is None
        else ("days", "days follow from the network; give changes to it instead")
    )
    for place, option in enumerate(read["options"]):
        if option[barred] is not None:
            raise Unreadable(mend, ("options", place, barred))


_ADJUST = Record(
    {
        "chance": Field(Number(Decimal(0), Decimal(1)), default=None, or_null=True),
        "axes": Field(Rows(_AXIS, least=1, most=100), default=None, or_null=True),
        "cost": Field(Amount(), default=0, or_null=True),
        "days": _DAYS,
        "float": Field(Whole(0, flips.MOST_DAYS), default=None, or_null=True),
    },
    check=_check_adjust,
)
_MUST_PASS = Record(
    {
        "name": Field(Text()),
        "value": Field(Number()),
        "at_most": Field(Number(), default=None, or_null=True),
        "at_least": Field(Number(), default=None, or_null=True),
    },
    check=_check_bounds,
)
_OPTION = Record(
    {
        "id": Field(Text()),
        "name": Field(Text(), default="", or_null=True),
        "items": Field(Rows(_ITEM, most=1000), default=(), or_null=True),
        "changes": Field(alter_json.CHANGES, default=None, or_null=True),
        "days": Field(Record({"extra": _DAYS, "float": _DAYS}), default=None, or_null=True),
        "effects": Field(Rows(_NAMED_AMOUNT, most=1000), default=(), or_null=True),
        "adjust": Field(_ADJUST, default=None, or_null=True),
        "must_pass": Field(Rows(_MUST_PASS, most=1000), default=(), or_null=True),
        "yearly_cost": Field(Amount(), default=0, or_null=True),
        "years": Field(Whole(0, flips.MOST_YEARS), default=0, or_null=True),
        "discount": Field(Fraction1(), default=None, or_null=True),
    }
)
DOCUMENT = Document(
    "compare: options of one decision",
    Record(
        {
            "currency": Field(Currency(), default=None, or_null=True, sets=("currency",)),
            "cost_of_day": Field(Amount(), default=0, or_null=True),
            "network": Field(network_json.NETWORK, default=None, or_null=True),
            "original": Field(Rows(_NAMED_AMOUNT, most=1000), default=(), or_null=True),
            "budget": Field(Amount(), default=None, or_null=True),
            "options": Field(Rows(_OPTION, least=1, most=100, unique="id")),
            "trials": Field(Whole(1, 10_000_000), default=10_000),
            "seed": Field(Whole(0, 2**63 - 1), default=1),
        },
        check=_check_days,
    ),
)


def work_out(read: Mapping[str, Any]) -> dict[str, Any]:
    """Compare the options of a document that `DOCUMENT` has read, and give the answer as plain JSON values.

    Raises: Unreadable, where the network has no answer, or the changes of an option do not fit it.
    """
    text = partial(money.as_text, currency=read["currency"])
    seen = compare.compare(_facts(read, _effects(read)))
    return {
        "options": [_option(row, text) for row in seen.options],
        "best": seen.best,
        "flips": [_flip(flip, text) for flip in seen.flips],
        "worth_of_certainty": text(seen.worth_of_certainty_minor),
        "shared": list(seen.shared),
    }


def _effects(read: Mapping[str, Any]) -> Sequence[compare.PlanEffect | None]:
    """What each option does to the network; None for all where there is none."""
    if read["network"] is None:
        return [None] * len(read["options"])
    try:
        stands = in_plan.ground(network_json.facts(read["network"]))
    except BadNetwork as fault:
        raise network_json.unreadable(fault).under("network") from None
    return [_effect(stands, option["changes"], place) for place, option in enumerate(read["options"])]


#: How the document calls what an alteration calls otherwise.
_KEYS: Mapping[str | int, str] = {"durations": "duration"}


def _effect(stands: in_plan.Ground, changes: Mapping[str, Any] | None, place: int) -> compare.PlanEffect:
    try:
        return in_plan.effect(stands, alter_json.of(changes) if changes is not None else Alteration())
    except BadNetwork as fault:
        found = network_json.unreadable(fault)
        steps = tuple(_KEYS.get(step, step) for step in found.path)
        path = () if steps[:1] == ("activities",) else steps  # a place in the altered network is none in the input
        raise Unreadable(found.mend, ("options", place, "changes", *path)) from None
    except Unreadable as fault:
        raise Unreadable(fault.mend, ("options", place, "changes", *fault.path)) from None


def _facts(read: Mapping[str, Any], effects: Sequence[compare.PlanEffect | None]) -> compare.DecisionFacts:
    return compare.DecisionFacts(
        options=tuple(_option_facts(option, effect) for option, effect in zip(read["options"], effects, strict=True)),
        cost_of_day_minor=read["cost_of_day"],
        original_minor=sum(row["amount"] for row in read["original"]) if read["original"] else None,
        budget_minor=read["budget"],
        currency=read["currency"],
    )


def _option_facts(option: Mapping[str, Any], effect: compare.PlanEffect | None) -> compare.OptionFacts:
    days = option["days"] or {"extra": 0, "float": 0}
    return compare.OptionFacts(
        id=option["id"],
        name=option["name"],
        items=tuple(compare.ItemFact(row["name"], row["amount"], row["shared"]) for row in option["items"]),
        effects=tuple(compare.EffectFact(row["name"], row["amount"]) for row in option["effects"]),
        extra_days=days["extra"],
        float_days=days["float"],
        adjust=None if option["adjust"] is None else _adjust(option["adjust"]),
        must_pass=tuple(
            compare.MustPassFact(row["name"], row["value"], row["at_most"], row["at_least"])
            for row in option["must_pass"]
        ),
        yearly_minor=option["yearly_cost"],
        years=option["years"],
        discount=option["discount"],
        plan=effect,
    )


def _adjust(adjust: Mapping[str, Any]) -> compare.AdjustFacts:
    return compare.AdjustFacts(
        chance=adjust["chance"],
        axes=tuple((axis["allows"], axis["spread"]) for axis in adjust["axes"] or ()),
        cost_minor=adjust["cost"],
        days=adjust["days"],
        float_days=adjust["float"],
    )


def _option(row: compare.OptionOutcome, text: Callable[[int], str]) -> dict[str, Any]:
    def maybe(minor: int | None) -> str | None:
        return None if minor is None else text(minor)

    total = text(row.expected_total_minor)
    return {
        "id": row.id,
        "price": text(row.price_minor),
        "effects": text(row.effects_minor),
        "first_cost": text(row.first_cost_minor),
        "finish": None if row.finish is None else row.finish.isoformat(),
        "days_later": row.days_later,
        "float_used": row.float_used,
        "cost_of_days": text(row.cost_of_days_minor),
        "chance_of_correction": plain(row.chance_of_correction),
        "correction": text(row.correction_minor),
        "running": text(row.running_minor),
        "expected_total": total,
        "price_saved_against_original": maybe(row.price_saved_minor),
        "saved_against_original": maybe(row.saved_minor),
        "over_budget": maybe(row.over_budget_minor),
        "range": {"p10": total, "p50": total, "p90": total},
        "chance_cheapest": plain(row.chance_cheapest),
        "passes": row.passes,
    }


def _flip(flip: compare.Flip, text: Callable[[int], str]) -> dict[str, Any]:
    writers: dict[str, Callable[[Any], Any]] = {"money": text, "whole": int, "number": plain}
    write = writers[flip.kind]
    return {
        "option": flip.option,
        "input": flip.input,
        "now": write(flip.now),
        "flips_at": None if flip.flips_at is None else write(flip.flips_at),
    }


def plain(number: Decimal | Fraction) -> int | float:
    """Give a number as JSON writes it: whole ones without a point.

    >>> plain(Decimal("0.1250")), plain(Fraction(4, 2))
    (0.125, 2)
    """
    return int(number) if number == int(number) else float(number)
