"""Quotes made comparable.

Two quotes differ in what they leave out, in currency, tax, freight and discount. Levelling brings each to one scope
and one currency: every priced item takes its share of discount, freight and tax, and every item a quote leaves out
takes a plug, so that the totals answer the same question. What the vendor wrote is never overwritten: it stays
beside the levelled amount as `quoted_minor`, and each plug is marked as one.

A quote is worked out exactly and rounded once, at the end (ADR 0101); its items are rounded together, so that they add
up to its total (ADR 0102). The order of the steps is ADR 0103, plugs and ranks are ADR 0104.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from fractions import Fraction
from types import MappingProxyType
from typing import Protocol, TypeVar

from units.money import exact_rate, round_ratio
from units.sharing import NothingToShareOver, round_together

INCLUDED = "included"

#: One item of a quote: minor units, `INCLUDED` in the price of another item, or None where it is not priced.
Amount = int | str | None


@dataclass(frozen=True, slots=True)
class QuoteFacts:
    """A quote as given; amounts in minor units of its own currency, fractions of one."""

    key: str
    currency: str
    rate: Decimal
    amounts: Mapping[str, Amount]
    discount_minor: int = 0
    discount_fraction: Decimal = Decimal(0)
    freight_minor: int = 0
    tax_fraction: Decimal = Decimal(0)
    #: recoverable tax contained in every figure of the quote, taken out first
    tax_inside_fraction: Decimal = Decimal(0)
    #: further costs or credits in minor units of the project's currency, added after the rate
    extras: Mapping[str, int] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, slots=True)
class ItemFigure:
    """One item of a levelled quote [project minor units]; None where nobody prices it."""

    amount_minor: int | None
    plug: bool


@dataclass(frozen=True, slots=True)
class LevelledQuote:
    """A quote made comparable [project minor units]."""

    key: str
    quoted_minor: int
    levelled_minor: int
    items: dict[str, ItemFigure]
    extras_minor: int
    gaps: tuple[str, ...]
    complete: bool
    rank: int


@dataclass(frozen=True, slots=True)
class Levelling:
    """Several quotes side by side."""

    quotes: tuple[LevelledQuote, ...]
    spread_minor: int
    flip: bool
    flip_items: tuple[str, ...]


def price_items(quote: QuoteFacts, *, currency: str) -> dict[str, Amount]:
    """Bring each priced item of a quote to the project's currency with its share of discount, freight and tax.

    Args:
        quote: as given; amounts, discount and freight none below zero.
        currency: the project's, code of ISO 4217.
    Returns: {item: amount [project minor units]}, in the order of the quote; items that are included in another or
        not priced keep `INCLUDED` and None. The amounts add up to the quote's total, rounded once.
    Raises: NothingToShareOver where discount or freight meets a quote without a priced item; UnknownCurrency.
    Source: our rule, ADR 0103.

    >>> quote = QuoteFacts("q", "GBP", Decimal(1), {"Slab": 10000, "Bars": 5000}, freight_minor=300)
    >>> price_items(quote, currency="GBP")
    {'Slab': 10200, 'Bars': 5100}
    """
    given = {item: amount for item, amount in quote.amounts.items() if isinstance(amount, int)}
    rate = exact_rate(quote.rate, from_currency=quote.currency, to_currency=currency)
    weights, factor = _factor(quote, list(given.values()))
    top, bottom = (factor * rate).as_integer_ratio()
    priced = dict(zip(given, round_together([weight * top for weight in weights], bottom), strict=True))
    return {item: priced.get(item, amount) for item, amount in quote.amounts.items()}


def _factor(quote: QuoteFacts, given: Sequence[int]) -> tuple[Sequence[int], Fraction]:
    """Discount over the priced items, freight over them, tax on all: one exact factor for the weights of the items."""
    whole = sum(given)
    discount = Fraction(quote.discount_fraction) * whole + quote.discount_minor
    if not given and (discount or quote.freight_minor):
        raise NothingToShareOver("discount or freight, but no priced item")
    weights = given if whole else [1] * len(given)  # items at no charge bear the rest in equal parts
    taxed = (1 + Fraction(quote.tax_fraction)) / (1 + Fraction(quote.tax_inside_fraction))
    return weights, (whole + quote.freight_minor - discount) / (sum(weights) or 1) * taxed


def is_over_discounted(
    amounts: Sequence[int], *, discount_minor: int = 0, discount_percent: Decimal | None = None
) -> bool:
    """Tell whether a discount takes off more than the priced items come to.

    Args:
        amounts: of the priced items [minor units], none below zero.
        discount_minor: given as an amount [minor units], zero or above.
        discount_percent: given as a percentage of the items [%], 0 to 100, or None.
    Source: our rule, ADR 0103: a vendor does not pay for the work it is let.

    >>> is_over_discounted([1000], discount_minor=600, discount_percent=Decimal(40))
    False
    >>> is_over_discounted([1000], discount_minor=601, discount_percent=Decimal(40))
    True
    """
    whole = sum(amounts)
    return discount_minor + Fraction(discount_percent or 0) * whole / 100 > whole


def level(
    items: Sequence[str],
    quotes: Sequence[QuoteFacts],
    *,
    currency: str,
    plug: str = "median",
    plugs: Mapping[str, int] = MappingProxyType({}),
) -> Levelling:
    """Make several quotes on one scope list comparable.

    Args:
        items: the scope list, each name once.
        quotes: each with its own `key`; an item that a quote does not name is not priced.
        currency: the project's, code of ISO 4217.
        plug: "median" or "highest" of the other quotes' levelled amounts for the item.
        plugs: {item: amount of one's own [project minor units]}, which win.
    Returns: the quotes in the order given [project minor units]; see `fill_gaps`.
    Raises: as `price_items`.
    Source: our rule, ADR 0103 and 0104.

    >>> low = QuoteFacts("low", "GBP", Decimal(1), {"Slab": 9000, "Bars": None})
    >>> full = QuoteFacts("full", "GBP", Decimal(1), {"Slab": 9500, "Bars": 2000})
    >>> result = level(["Slab", "Bars"], [low, full], currency="GBP")
    >>> [(q.key, q.levelled_minor, q.rank, q.gaps) for q in result.quotes], result.spread_minor
    ([('low', 11000, 1, ('Bars',)), ('full', 11500, 2, ())], 500)
    """
    ordered = [replace(quote, amounts={item: quote.amounts.get(item) for item in items}) for quote in quotes]
    return fill_gaps(
        items,
        {quote.key: price_items(quote, currency=currency) for quote in ordered},
        extras={quote.key: sum(quote.extras.values()) for quote in ordered},
        quoted={quote.key: _as_given(quote, currency, [quote.amounts.values()])[0] for quote in ordered},
        plug=plug,
        plugs=plugs,
        given={
            quote.key: dict(zip(items, _as_given(quote, currency, ([a] for a in quote.amounts.values())), strict=True))
            for quote in ordered
        },
    )


def _as_given(quote: QuoteFacts, currency: str, groups: Iterable[Iterable[Amount]]) -> list[int]:
    """The amounts of some groups of items as given, each group summed and rounded [project minor units]."""
    top, bottom = exact_rate(quote.rate, from_currency=quote.currency, to_currency=currency).as_integer_ratio()
    return [round_ratio(top * sum(a for a in group if isinstance(a, int)), bottom) for group in groups]


def fill_gaps(
    items: Sequence[str],
    priced: Mapping[str, Mapping[str, Amount]],
    extras: Mapping[str, int],
    quoted: Mapping[str, int],
    *,
    plug: str = "median",
    plugs: Mapping[str, int] = MappingProxyType({}),
    given: Mapping[str, Mapping[str, int]] = MappingProxyType({}),
) -> Levelling:
    """Fill what each quote leaves out, and rank the results: the second half of `level`.

    Args:
        items: the scope list, each name once.
        priced: {quote: {item: as `price_items` returns it}}.
        extras: {quote: further costs or credits [project minor units]}.
        quoted: {quote: the amounts as given, at the quote's rate [project minor units]}.
        plug, plugs: as in `level`.
        given: {quote: {item: amount as given}}; without it a flip is explained by gaps alone.
    Returns: the quotes in the order of `priced`. Rank 1 is the lowest levelled, incomplete ones come last, equal
        amounts share a rank. The spread is that of the complete quotes, 0 under two of them. `flip` tells that none
        of the quotes that are lowest as given has rank 1; `flip_items` names what caused it, in the order of `items`.
    Source: our rule, ADR 0104.

    >>> fill_gaps(["Bars"], {"a": {"Bars": None}, "b": {"Bars": 700}}, {}, {"a": 0, "b": 700}).flip
    False
    """
    own_or_rule = {item: plugs.get(item, _plug(item, priced, plug)) for item in items}
    rows = [_filled(key, items, priced[key], own_or_rule, extras.get(key, 0), quoted[key]) for key in priced]
    ranked = _ranked(rows)
    totals = [row.levelled_minor for row in ranked if row.complete]
    causes = _flip(items, ranked, given)
    return Levelling(
        quotes=tuple(ranked),
        spread_minor=max(totals) - min(totals) if totals else 0,
        flip=causes is not None,
        flip_items=causes or (),
    )


def _plug(item: str, priced: Mapping[str, Mapping[str, Amount]], rule: str) -> int | None:
    """What the quotes that price an item say it costs; a quote that includes it elsewhere says nothing of that."""
    amounts = sorted(amount for row in priced.values() if isinstance(amount := row.get(item), int))
    if not amounts:
        return None
    return amounts[-1] if rule == "highest" else median(amounts)


def median(ordered: Sequence[int]) -> int:
    """Give the middle of some sorted amounts; of an even number the mean of the middle two.

    Args:
        ordered: amounts [minor units], smallest first, at least one.
    Returns: [minor units], rounded half away from zero.
    Source: the usual definition; the rounding is ours (ADR 0101).

    >>> median([100, 201]), median([1, 5, 90])
    (151, 5)
    """
    middle = len(ordered) // 2
    if len(ordered) % 2:
        return ordered[middle]
    return round_ratio(ordered[middle - 1] + ordered[middle], 2)


def _filled(
    key: str,
    items: Sequence[str],
    amounts: Mapping[str, Amount],
    plugs: Mapping[str, int | None],
    extras_minor: int,
    quoted_minor: int,
) -> LevelledQuote:
    figures = {item: _figure(amounts.get(item), plugs[item]) for item in items}
    return LevelledQuote(
        key=key,
        quoted_minor=quoted_minor,
        levelled_minor=sum(figure.amount_minor or 0 for figure in figures.values()) + extras_minor,
        items=figures,
        extras_minor=extras_minor,
        gaps=tuple(item for item in items if amounts.get(item) is None),
        complete=all(figure.amount_minor is not None for figure in figures.values()),
        rank=0,
    )


def _figure(amount: Amount, plug: int | None) -> ItemFigure:
    if amount is None:
        return ItemFigure(plug, plug is not None)
    return ItemFigure(0 if isinstance(amount, str) else amount, False)


def _ranked(rows: Sequence[LevelledQuote]) -> list[LevelledQuote]:
    places = sorted((not row.complete, row.levelled_minor) for row in rows)
    first = {place: number for number, place in reversed(list(enumerate(places, start=1)))}
    return [replace(row, rank=first[not row.complete, row.levelled_minor]) for row in rows]


class Compared(Protocol):
    """A quote with its amount as given and its levelled amount [minor units]."""

    @property
    def quoted_minor(self) -> int: ...
    @property
    def levelled_minor(self) -> int: ...
    @property
    def complete(self) -> bool: ...


Quoted = TypeVar("Quoted", bound=Compared)


def turned(rows: Sequence[Quoted]) -> tuple[Quoted, Quoted] | None:
    """Tell whether the lowest quote as given is not the lowest once levelled.

    Args:
        rows: the quotes on one line, in any order.
    Returns: (the one that looked lowest, the one that is lowest), or None where it is the same or as cheap. Complete
        quotes come before incomplete ones; of equals the earlier counts.
    Source: our rule, ADR 0104.

    >>> low = LevelledQuote("low", 900, 1080, {}, 0, ("Grout",), True, 2)
    >>> turned([low, LevelledQuote("whole", 1020, 1020, {}, 0, (), True, 1)])[1].key
    'whole'
    """
    if not rows:
        return None
    looked = min(rows, key=lambda row: (row.quoted_minor, not row.complete, row.levelled_minor))
    won = min(rows, key=lambda row: (not row.complete, row.levelled_minor))
    as_cheap = (looked.complete, looked.levelled_minor) == (won.complete, won.levelled_minor)
    return None if as_cheap else (looked, won)


def _flip(
    items: Sequence[str], rows: Sequence[LevelledQuote], given: Mapping[str, Mapping[str, int]]
) -> tuple[str, ...] | None:
    """The items that made the quote that looked lowest lose its place, or None where it kept it."""
    found = turned(rows)
    if found is None:
        return None
    looked, won = found
    causes = set(looked.gaps) | _further_causes(items, looked, won, given)
    return tuple(item for item in items if item in causes)


def _further_causes(
    items: Sequence[str], looked: LevelledQuote, won: LevelledQuote, given: Mapping[str, Mapping[str, int]]
) -> set[str]:
    """Where the gaps alone do not explain a flip: the items that moved most, until they do."""
    if looked.key not in given or not looked.complete:
        return set()
    moved = {item: _moved(item, looked, given) - _moved(item, won, given) for item in items}
    open_minor = won.quoted_minor - looked.quoted_minor - sum(moved[item] for item in looked.gaps)
    found: set[str] = set()
    for item in sorted((i for i in items if i not in looked.gaps and moved[i] > 0), key=lambda i: -moved[i]):
        if open_minor < 0:
            break
        found.add(item)
        open_minor -= moved[item]
    return found


def _moved(item: str, row: LevelledQuote, given: Mapping[str, Mapping[str, int]]) -> int:
    return (row.items[item].amount_minor or 0) - given[row.key][item]
