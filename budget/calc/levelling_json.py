"""The levelling as a JSON document: what may be sent, and what comes back. The formulas are in `levelling`."""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from functools import partial
from typing import Any

from budget.calc import levelling
from units import money
from units.reading import Document, Field, Record, Rows, Table, Unreadable, nearest, shown
from units.shapes import Amount, AmountOrPercent, Choice, Currency, Number, Percent, Text, Words

#: Amounts stand in the currency of their quote, or of the project.
_OF_QUOTE = Amount(scope_name="quote")
_ITEM = Words(_OF_QUOTE, {levelling.INCLUDED: levelling.INCLUDED, None: None}, 'a number, "included" or null')
_EXTRA = Record({"name": Field(Text()), "amount": Field(Amount(signed=True))})
_QUOTE = Record(
    {
        "vendor": Field(Text()),
        "currency": Field(Currency(), default=None, or_null=True, sets=("quote",)),
        "rate": Field(Number(above=Decimal(0), high=Decimal(10) ** 9, or_text=True), default=None, or_null=True),
        "amounts": Field(Table(_ITEM, most=1000)),
        "discount": Field(AmountOrPercent(_OF_QUOTE), default=(0, Decimal(0)), or_null=True),
        "freight": Field(_OF_QUOTE, default=0, or_null=True),
        "tax": Field(Percent(), default=Decimal(0), or_null=True),
        "tax_inside": Field(Percent(), default=Decimal(0), or_null=True),
        "extras": Field(Rows(_EXTRA, most=1000), default=None, or_null=True),
    }
)


def _check(read: Mapping[str, Any]) -> None:
    """What one key alone cannot show: names that are not on the scope list, rates that contradict, empty discounts."""
    known = frozenset(read["items"])
    for place, quote in enumerate(read["quotes"]):
        path: tuple[str | int, ...] = ("quotes", place)
        _check_names(quote["amounts"], known, read["items"], (*path, "amounts"))
        _check_rate(quote, read["currency"], path)
        _check_shares(quote, path)
    _check_names(read["plugs"], known, read["items"], ("plugs",))


def _check_names(
    named: Mapping[str, Any], known: frozenset[str], items: Sequence[str], path: tuple[str | int, ...]
) -> None:
    for name in named:
        if name not in known:
            raise Unreadable(f'"{shown(name)}" is none of the items{nearest(name, items)}', path)


def _check_rate(quote: Mapping[str, Any], currency: str, path: tuple[str | int, ...]) -> None:
    own = quote["currency"] or currency
    if quote["rate"] is None and own != currency:
        raise Unreadable(f"a number above 0 is required: how many {currency} one {own} is", (*path, "rate"))
    if quote["rate"] not in (None, 1) and own == currency:
        raise Unreadable(f"the quote is in {currency} like the project, so this is 1 or left out", (*path, "rate"))


def _check_shares(quote: Mapping[str, Any], path: tuple[str | int, ...]) -> None:
    priced = [amount for amount in quote["amounts"].values() if isinstance(amount, int)]
    for key, shared in (("discount", quote["discount"][0]), ("freight", quote["freight"])):
        if shared and not priced:
            raise Unreadable("no item is priced, so there is nothing to share this over; price an item", (*path, key))
    if quote["discount"][0] > sum(priced):
        raise Unreadable("this is more than the priced items come to", (*path, "discount"))


DOCUMENT = Document(
    "levelling: quotes made comparable",
    Record(
        {
            "currency": Field(Currency(), sets=("currency", "quote")),
            "items": Field(Rows(Text(), least=1, most=1000, unique=".")),
            "quotes": Field(Rows(_QUOTE, least=1, most=500)),
            "plug": Field(Choice(("median", "highest")), default="median"),
            "plugs": Field(Table(Amount(), most=1000), default={}, or_null=True),
        },
        check=_check,
    ),
)


def work_out(read: Mapping[str, Any]) -> dict[str, Any]:
    """Level the quotes of a document that `DOCUMENT` has read, and give the answer as plain JSON values."""
    text = partial(money.as_text, currency=read["currency"])
    result = levelling.level(
        read["items"],
        [_facts(str(place), quote, read["currency"]) for place, quote in enumerate(read["quotes"])],
        currency=read["currency"],
        plug=read["plug"],
        plugs=read["plugs"],
    )
    return {
        "quotes": [_answer(row, given, text) for row, given in zip(result.quotes, read["quotes"], strict=True)],
        "spread": text(result.spread_minor),
        "flip": result.flip,
        "items": list(result.flip_items),
    }


def _facts(key: str, quote: Mapping[str, Any], currency: str) -> levelling.QuoteFacts:
    discount_minor, discount_fraction = quote["discount"]
    return levelling.QuoteFacts(
        key=key,
        currency=quote["currency"] or currency,
        rate=Decimal(1) if quote["rate"] is None else quote["rate"],
        amounts=quote["amounts"],
        discount_minor=discount_minor,
        discount_fraction=discount_fraction,
        freight_minor=quote["freight"],
        tax_fraction=quote["tax"],
        tax_inside_fraction=quote["tax_inside"],
        extras={str(place): extra["amount"] for place, extra in enumerate(quote["extras"] or ())},
    )


def _answer(row: levelling.LevelledQuote, given: Mapping[str, Any], text: Any) -> dict[str, Any]:
    extras = {} if given["extras"] is None else {"extras": text(row.extras_minor)}
    return {
        "vendor": given["vendor"],
        "quoted": text(row.quoted_minor),
        "levelled": text(row.levelled_minor),
        "items": {item: _figure(figure, text) for item, figure in row.items.items()},
        **extras,
        "gaps": list(row.gaps),
        "complete": row.complete,
        "rank": row.rank,
    }


def _figure(figure: levelling.ItemFigure, text: Any) -> dict[str, Any]:
    return {"amount": None if figure.amount_minor is None else text(figure.amount_minor), "plug": figure.plug}
