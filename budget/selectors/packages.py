"""The quotes on a line, ready to be made comparable.

A package is one line item with its scope list. A quote may price several lines at once, so its discount, freight
and tax are shared over all its items first; only then is each line levelled on its own.
"""

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from budget.calc import levelling
from budget.models import LineItem, Quote, QuoteExtra, QuoteItem, QuoteLine, ScopeItem
from projects.models import Project
from units import money

STANDING = (Quote.State.OPEN, Quote.State.ACCEPTED, Quote.State.DECLINED)


def item_key(line_id: int, scope_item_id: int | None) -> str:
    """The name of one item in a levelling: the line as a whole, or an entry of its scope list."""
    return str(line_id) if scope_item_id is None else f"{line_id}/{scope_item_id}"


def extra_key(line_id: int, name: str) -> str:
    """The name of a further cost beside quotes, one for all quotes that bear a cost of that name."""
    return f"{line_id}+{name}"


def is_extra(key: str) -> bool:
    return "+" in key


@dataclass(frozen=True, slots=True)
class Package:
    """One line with its scope list and the quotes on it."""

    line: LineItem
    scope: tuple[ScopeItem, ...]
    quotes: tuple[Quote, ...]
    #: {quote id: {scope item id or None: the row as given}}
    items: Mapping[int, Mapping[int | None, QuoteItem]]
    extras: Mapping[int, tuple[QuoteExtra, ...]]
    kept: Mapping[int, QuoteLine]
    levelling: levelling.Levelling

    @property
    def keys(self) -> tuple[str, ...]:
        return _keys(self.line.pk, self.scope)


@dataclass(slots=True)
class _Rows:
    """Everything read, before it is put together."""

    lines: dict[int, LineItem]
    scope: dict[int, list[ScopeItem]] = field(default_factory=lambda: defaultdict(list))
    kept: dict[int, dict[int, QuoteLine]] = field(default_factory=lambda: defaultdict(dict))
    quotes: dict[int, Quote] = field(default_factory=dict)
    items: dict[int, dict[tuple[int, int | None], QuoteItem]] = field(default_factory=lambda: defaultdict(dict))
    extras: dict[tuple[int, int], list[QuoteExtra]] = field(default_factory=lambda: defaultdict(list))


def packages(project: Project, line_ids: Collection[int]) -> list[Package]:
    """Level the quotes on each of some lines.

    Returns: one package per line that is not removed, in the order of the budget; quotes that were withdrawn or
    replaced are left out. Queries: 5, whatever the number of lines and quotes.
    """
    rows = _read(project, line_ids)
    priced = {pk: levelling.price_items(_facts(rows, pk), currency=project.currency) for pk in rows.quotes}
    return [_package(project, rows, line, priced) for line in rows.lines.values()]


def _read(project: Project, line_ids: Collection[int]) -> _Rows:
    lines = LineItem.objects.filter(project=project, pk__in=line_ids, removed_on=None).select_related("trade")
    rows = _Rows(lines={line.pk: line for line in lines})
    for scope_item in ScopeItem.objects.filter(line_id__in=rows.lines, removed_at=None):
        rows.scope[scope_item.line_id].append(scope_item)
    on_lines = QuoteLine.objects.filter(line_id__in=rows.lines, quote__state__in=STANDING)
    for kept in on_lines.select_related("quote__vendor").order_by("quote__quoted_on", "quote_id"):
        rows.quotes[kept.quote_id] = kept.quote
        rows.kept[kept.line_id][kept.quote_id] = kept
    for item in QuoteItem.objects.filter(quote_id__in=rows.quotes).order_by("pk"):
        rows.items[item.quote_id][item.line_id, item.scope_item_id] = item
    for extra in QuoteExtra.objects.filter(quote_id__in=rows.quotes).order_by("pk"):
        rows.extras[extra.quote_id, extra.line_id].append(extra)
    return rows


def _facts(rows: _Rows, quote_id: int) -> levelling.QuoteFacts:
    quote = rows.quotes[quote_id]
    return levelling.QuoteFacts(
        key=str(quote_id),
        currency=quote.currency,
        rate=quote.rate,
        amounts={item_key(*where): _amount(item) for where, item in rows.items[quote_id].items()},
        discount_minor=quote.discount_quoted_minor,
        discount_fraction=_fraction(quote.discount_percent),
        freight_minor=quote.freight_quoted_minor,
        tax_fraction=_fraction(quote.tax_percent),
        tax_inside_fraction=_fraction(quote.tax_inside_percent),
    )


def _amount(item: QuoteItem) -> int | str | None:
    if item.standing == QuoteItem.Standing.PRICED:
        return item.amount_quoted_minor
    return levelling.INCLUDED if item.standing == QuoteItem.Standing.INCLUDED else None


def _fraction(percent: Decimal | None) -> Decimal:
    return Decimal(0) if percent is None else percent / 100


def _keys(line_id: int, scope: Collection[ScopeItem]) -> tuple[str, ...]:
    return (item_key(line_id, None), *(item_key(line_id, item.pk) for item in scope))


def _package(project: Project, rows: _Rows, line: LineItem, priced: Mapping[int, Mapping]) -> Package:
    kept = rows.kept[line.pk]
    scope = tuple(rows.scope[line.pk])
    extras = {pk: tuple(rows.extras[pk, line.pk]) for pk in kept}
    keys = _keys(line.pk, scope) + _extra_keys(line.pk, extras)
    given = {str(pk): _as_given(rows, project, pk, line.pk, keys) for pk in kept}
    result = levelling.fill_gaps(
        keys,
        {str(pk): _on_line(priced[pk], line.pk, keys) | _extra_amounts(line.pk, extras[pk]) for pk in kept},
        extras={},
        quoted={key: sum(amounts.values()) for key, amounts in given.items()},
        plug=line.plug_rule,
        plugs={item_key(line.pk, s.pk): s.plug_minor for s in scope if s.plug_minor is not None},
        given=given,
    )
    return Package(
        line=line,
        scope=scope,
        quotes=tuple(rows.quotes[pk] for pk in kept),
        items={pk: {s: row for (on, s), row in rows.items[pk].items() if on == line.pk} for pk in kept},
        extras=extras,
        kept=kept,
        levelling=result,
    )


def _extra_keys(line_id: int, extras: Mapping[int, Collection[QuoteExtra]]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(extra_key(line_id, extra.name) for rows in extras.values() for extra in rows))


def _extra_amounts(line_id: int, extras: Collection[QuoteExtra]) -> dict[str, int]:
    amounts: dict[str, int] = defaultdict(int)
    for extra in extras:
        amounts[extra_key(line_id, extra.name)] += extra.amount_minor
    return amounts


def _on_line(
    priced: Mapping[str, levelling.Amount], line_id: int, keys: Collection[str]
) -> dict[str, levelling.Amount]:
    """A quote's items on one line; a price by scope items alone leaves nothing to pay for the line as a whole."""
    whole = item_key(line_id, None)
    found = {key: levelling.INCLUDED if is_extra(key) else priced.get(key) for key in keys}
    if whole not in priced:
        found[whole] = levelling.INCLUDED
    return found


def _as_given(rows: _Rows, project: Project, quote_id: int, line_id: int, keys: Collection[str]) -> dict[str, int]:
    """The amounts of a quote on a line at its rate, before anything is levelled [project minor units]."""
    quote = rows.quotes[quote_id]
    amounts = dict.fromkeys(keys, 0)
    for (on, scope_item_id), item in rows.items[quote_id].items():
        if on == line_id and item.amount_quoted_minor is not None:
            amounts[item_key(on, scope_item_id)] = money.convert(
                item.amount_quoted_minor, from_currency=quote.currency, to_currency=project.currency, rate=quote.rate
            )
    return amounts


def net_of(levelled: levelling.LevelledQuote) -> int:
    """What the vendor bills for a line: priced items with their share of discount, freight and tax, no plugs, no extras."""
    return sum(f.amount_minor or 0 for key, f in levelled.items.items() if not f.plug and not is_extra(key))
