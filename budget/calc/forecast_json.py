"""The forecast as a JSON document: what may be sent, and what comes back. The formulas are in `forecast`."""

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from functools import partial
from typing import Any

from budget.calc import cash, currencies, forecast, reserve
from units import money
from units.reading import Document, Field, Record, Rows, Unreadable, nearest, shown
from units.shapes import Amount, Choice, Currency, Day, Flag, Number, Text, Whole

_MAYBE = Field(Amount(), default=None, or_null=True)
_NONE_YET = Field(Amount(), default=0, or_null=True)
_QUOTE = Record(
    {
        "id": Field(Text()),
        "levelled": Field(Amount()),
        "date": Field(Day()),
        "complete": Field(Flag(), default=True),
        "valid_until": Field(Day(), default=None, or_null=True),
        "preferred": Field(Flag(), default=False),
        "firm": Field(Flag(), default=True),
    }
)
_CHANGE = Record(
    {
        "amount": Field(Amount(signed=True)),
        "status": Field(Choice(("proposed", "agreed", "declined"))),
        "chance": Field(Number(Decimal(0), Decimal(1)), default=Decimal(1), or_null=True),
    }
)
#: Amounts of an agreement in another currency stand in that currency; what was billed of it came to `cost` in the project's.
_OF_AGREEMENT = Amount(scope_name="foreign")
_RATE = Number(above=Decimal(0), high=Decimal(10) ** 9, or_text=True)
_BILLED = Record({"amount": Field(Amount(scope_name="foreign", signed=True)), "cost": Field(Amount(signed=True))})
_FOREIGN = Record(
    {
        "currency": Field(Currency(), sets=("foreign",)),
        "agreed": Field(_OF_AGREEMENT),
        "rate": Field(_RATE),
        "today": Field(_RATE, default=None, or_null=True),
        "billed": Field(Rows(_BILLED, most=10_000), default=(), or_null=True),
    }
)


def _check_line(read: Mapping[str, Any]) -> None:
    ids = [quote["id"] for quote in read["quotes"]]
    original = read["original_quote"]
    if original is not None and original not in ids:
        raise Unreadable(
            f'"{shown(original)}" is none of the line\'s quotes{nearest(original, ids)}', ("original_quote",)
        )
    preferred = [place for place, quote in enumerate(read["quotes"]) if quote["preferred"]]
    if len(preferred) > 1:
        raise Unreadable("another quote of the line is preferred already", ("quotes", preferred[1], "preferred"))
    if read["foreign"] and read["agreed"] is None:
        raise Unreadable("what is agreed in another currency is also given in the project's, as `agreed`", ("agreed",))


_LINE = Record(
    {
        "id": Field(Text()),
        "trade": Field(Text(), default=""),
        "budget": Field(Amount()),
        "kind": Field(Choice(("work", "allowance", forecast.CONTINGENCY)), default="work"),
        "closed": Field(Flag(), default=False),
        "own_forecast": _MAYBE,
        "quotes": Field(Rows(_QUOTE, most=1000, unique="id"), default=(), or_null=True),
        "original_quote": Field(Text(), default=None, or_null=True),
        "estimate": _MAYBE,
        "agreed": _MAYBE,
        "changes": Field(Rows(_CHANGE, most=10_000), default=(), or_null=True),
        "gaps": Field(Amount(signed=True), default=0, or_null=True),
        "still_to_let": _NONE_YET,
        "invoiced": Field(Amount(signed=True), default=0, or_null=True),
        "effects": Field(Amount(signed=True), default=0, or_null=True),
        "foreign": Field(Rows(_FOREIGN, most=100), default=(), or_null=True),
    },
    check=_check_line,
)
_RISK = Record(
    {
        "id": Field(Text()),
        "chance": Field(Number(Decimal(0), Decimal(1))),
        "cost": Field(Amount(), default=0, or_null=True),
        "days": Field(Whole(0, 10_000), default=0, or_null=True),
    }
)
_SOURCE = Record({"name": Field(Text()), "amount": Field(Amount()), "received": _NONE_YET})
_TRANSFER = Record({"from": Field(Text()), "to": Field(Text()), "amount": Field(Amount(above_zero=True))})


def _check(read: Mapping[str, Any]) -> None:
    ids = [line["id"] for line in read["lines"]]
    for place, line in enumerate(read["lines"]):
        _check_currencies(line["foreign"], read["currency"], ("lines", place, "foreign"))
    known = frozenset(ids)
    for place, transfer in enumerate(read["transfers"]):
        for end in ("from", "to"):
            if transfer[end] not in known:
                mend = f'"{shown(transfer[end])}" is none of the lines{nearest(transfer[end], ids)}'
                raise Unreadable(mend, ("transfers", place, end))
        if transfer["from"] == transfer["to"]:
            raise Unreadable("a transfer goes to another line than it comes from", ("transfers", place, "to"))


def _check_currencies(foreign: Sequence[Mapping[str, Any]], currency: str | None, path: tuple[str | int, ...]) -> None:
    for place, one in enumerate(foreign):
        if currency is None:
            raise Unreadable("give the project's currency, so that this can be converted to it", ("currency",))
        if one["currency"] == currency:
            raise Unreadable("this is the project's own currency; leave it out here", (*path, place, "currency"))


DOCUMENT = Document(
    "forecast: likely final and the bridge",
    Record(
        {
            "currency": Field(Currency(), default=None, or_null=True, sets=("currency",)),
            "as_of": Field(Day()),
            "lines": Field(Rows(_LINE, least=1, most=20_000, unique="id")),
            "transfers": Field(Rows(_TRANSFER, most=20_000), default=(), or_null=True),
            "cost_of_day": _NONE_YET,
            "risks": Field(Rows(_RISK, most=1000, unique="id"), default=(), or_null=True),
            "funding": Field(Rows(_SOURCE, most=100, unique="name"), default=(), or_null=True),
            "paid": _NONE_YET,
        },
        check=_check,
    ),
)


def work_out(read: Mapping[str, Any]) -> dict[str, Any]:
    """Work out the forecast of a document that `DOCUMENT` has read, and give the answer as plain JSON values."""
    text = partial(money.as_text, currency=read["currency"])
    seen = forecast.forecast(
        [_facts(line, read["currency"]) for line in read["lines"]],
        [forecast.TransferFact(row["from"], row["to"], row["amount"]) for row in read["transfers"]],
        as_of=read["as_of"],
    )
    return {
        "lines": [_line(id_, outcome, text) for id_, outcome in seen.lines.items()],
        "totals": _totals(seen.totals, text),
        "contingency": {
            "start": text(seen.contingency.start_minor),
            "drawn": text(seen.contingency.drawn_minor),
            "left": text(seen.contingency.left_minor),
            "uncovered": text(seen.contingency.uncovered_minor),
        },
        "cover": _cover(read, seen, text),
        "funds": _funds(read, seen, text),
        "by_trade": [{"trade": trade, **_totals(totals, text)} for trade, totals in seen.by_trade.items()],
        "bridge": [
            {"cause": step.cause, "amount": text(step.amount_minor), "likely_final": text(step.running_minor)}
            for step in seen.bridge
        ],
    }


def _facts(line: Mapping[str, Any], currency: str | None) -> forecast.LineFacts:
    return forecast.LineFacts(
        id=line["id"],
        trade=line["trade"],
        budget_minor=line["budget"],
        kind=line["kind"],
        closed=line["closed"],
        own_forecast_minor=line["own_forecast"],
        quotes=tuple(_quote(quote) for quote in line["quotes"]),
        original_quote=line["original_quote"],
        estimate_minor=line["estimate"],
        agreed_minor=line["agreed"],
        changes=tuple(forecast.ChangeFact(row["amount"], row["status"], row["chance"]) for row in line["changes"]),
        gaps_minor=line["gaps"],
        still_to_let_minor=line["still_to_let"],
        invoiced_minor=line["invoiced"],
        effects_minor=line["effects"],
        currency_minor=sum(
            currencies.movement_minor(_foreign(row), currency=currency or "") for row in line["foreign"]
        ),
    )


def _foreign(row: Mapping[str, Any]) -> currencies.Foreign:
    return currencies.Foreign(
        currency=row["currency"],
        agreed_quoted_minor=row["agreed"],
        rate=row["rate"],
        today_rate=row["rate"] if row["today"] is None else row["today"],
        billed=tuple(currencies.Billed(part["amount"], part["cost"]) for part in row["billed"]),
    )


def _cover(read: Mapping[str, Any], seen: forecast.Forecast, text: Callable[[int], str]) -> dict[str, Any]:
    """What the contingency has to cover: open risks, and lines whose price binds nobody."""
    facts = [reserve.RiskFact(row["id"], row["chance"], row["cost"], row["days"]) for row in read["risks"]]
    risk = reserve.register(facts, read["cost_of_day"]).expected_minor
    spread = reserve.unpriced_spread(_unpriced(line, seen.lines[line["id"]], read["as_of"]) for line in read["lines"])
    found = reserve.cover(seen.contingency.left_minor, risk, spread)
    ratio = None if found.ratio is None else str(found.ratio)
    return {"open_risk": text(risk), "spread": text(spread), "ratio": ratio, "signal": found.signal}


def _unpriced(line: Mapping[str, Any], outcome: forecast.LineOutcome, as_of: date) -> reserve.Unpriced:
    """How firm a line is: one that is let is firm but for what is still to be let of it."""
    if line["closed"] or line["kind"] == forecast.CONTINGENCY:
        return reserve.Unpriced(line["id"], 0, firm=True)
    if line["agreed"] is not None:
        return reserve.Unpriced(line["id"], line["still_to_let"])
    standing = [
        quote
        for quote in line["quotes"]
        if quote["complete"] and (quote["valid_until"] is None or quote["valid_until"] >= as_of)
    ]
    highest = max((quote["levelled"] for quote in standing), default=None)
    bound = any(quote["preferred"] and quote["firm"] for quote in standing)
    return reserve.Unpriced(line["id"], outcome.likely_minor, highest, firm=bound)


def _funds(read: Mapping[str, Any], seen: forecast.Forecast, text: Callable[[int], str]) -> dict[str, str] | None:
    """Money promised and received against what is still to be paid for the works, without the contingency."""
    if not read["funding"]:
        return None
    aside = {line["id"] for line in read["lines"] if line["kind"] == forecast.CONTINGENCY}
    likely = sum(outcome.likely_minor for id_, outcome in seen.lines.items() if id_ not in aside)
    sources = [cash.Source(row["name"], row["amount"], row["received"]) for row in read["funding"]]
    to_complete = likely - read["paid"]
    found = cash.funds(sources, cost_to_complete_minor=to_complete, paid_minor=read["paid"])
    return {
        "promised": text(sum(source.amount_minor for source in sources)),
        "cost_to_complete": text(to_complete),
        "undrawn": text(found.undrawn_minor),
        "in_hand": text(found.in_hand_minor),
        "room": text(found.room_minor),
    }


def _quote(quote: Mapping[str, Any]) -> forecast.QuoteFact:
    return forecast.QuoteFact(
        id=quote["id"],
        levelled_minor=quote["levelled"],
        quoted_on=quote["date"],
        complete=quote["complete"],
        valid_until=quote["valid_until"],
        preferred=quote["preferred"],
    )


def _line(id_: str, outcome: forecast.LineOutcome, text: Callable[[int], str]) -> dict[str, Any]:
    against = outcome.against_original_minor
    return {
        "id": id_,
        "state": outcome.state,
        "likely_final": text(outcome.likely_minor),
        "over_budget": text(outcome.over_budget_minor),
        "against_original_quote": None if against is None else text(against),
        "currency_movement": text(outcome.currency_minor),
    }


def _totals(totals: forecast.Totals, text: Callable[[int], str]) -> dict[str, str]:
    return {
        "budget": text(totals.budget_minor),
        "likely_final": text(totals.likely_minor),
        "over_budget": text(totals.over_budget_minor),
        "against_original_quote": text(totals.against_original_minor),
    }
