from dataclasses import replace
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from statistics import median

import pytest
from hypothesis import given
from hypothesis import strategies as st

from budget.calc import levelling
from budget.calc.levelling import INCLUDED, QuoteFacts
from tests.reference_values import reference
from tests.worked_tables import minor, table
from units.sharing import NothingToShareOver

ITEMS = ["Panels", "Freight crate", "Bonding kit", "Works check"]


def quote(key="q", *, currency="GBP", rate="1", **facts):
    return QuoteFacts(key, currency, Decimal(rate), **{"amounts": {"a": 10000, "b": 5000}, **facts})


def level(items, *quotes, **rules):
    return levelling.level(items, quotes, currency="GBP", **rules)


def by_key(result):
    return {row.key: row for row in result.quotes}


def _given(cell):
    return {"incl.": INCLUDED, "out": None}.get(cell, cell) if cell in ("incl.", "out") else minor(cell)


def _from_row(row):
    percent = row["discount"].endswith("%")
    return QuoteFacts(
        row["vendor"],
        row["currency"],
        Decimal(row["rate"]),
        {item: _given(row[item]) for item in ITEMS},
        discount_fraction=Decimal(row["discount"].rstrip("%")) / 100 if percent else Decimal(0),
        freight_minor=0 if row["freight"] == "0" else minor(row["freight"]),
        tax_fraction=Decimal(row["tax"].rstrip("%")) / 100,
    )


@pytest.mark.parametrize("row", table("levelling.md", "Levelled"), ids=lambda row: row["vendor"])
def test_quotes_levelled_as_worked_by_hand(row):
    found = by_key(level(ITEMS, *map(_from_row, table("levelling.md", "As given"))))[row["vendor"]]
    assert (found.quoted_minor, found.levelled_minor, found.rank) == (
        minor(row["quoted"]),
        minor(row["levelled"]),
        int(row["rank"]),
    )
    assert {item: figure.amount_minor for item, figure in found.items.items()} == {
        item: minor(row[item]) for item in ITEMS
    }
    assert (", ".join(found.gaps) or "none") == row["gaps"]


def test_spread_and_flip_as_worked_by_hand():
    result = level(ITEMS, *map(_from_row, table("levelling.md", "As given")))
    assert (result.spread_minor, result.flip, result.flip_items) == (1189362, False, ())


def test_ranking_flips_as_in_the_reference():
    """Source: named in tests/reference/bids.json, bid-lvl-01. What it adds for a short allowance is an extra here."""
    case = reference("bids", "bid-lvl-01")
    plugs, fix = case["inputs"]["plug_prices"], case["inputs"]["allowance_fix"]
    quotes = [
        quote(
            vendor,
            amounts={
                "work": total * 100,
                **{item: None if item in case["inputs"]["exclusions"][vendor] else INCLUDED for item in plugs},
            },
            extras={"rebar": (fix[vendor]["rebar_needed"] - fix[vendor]["rebar_quoted"]) * 100}
            if vendor in fix
            else {},
        )
        for vendor, total in case["inputs"]["quotes"].items()
    ]
    result = level(["work", *plugs], *quotes, plugs={item: amount * 100 for item, amount in plugs.items()})
    assert {row.key: row.levelled_minor // 100 for row in result.quotes} == case["expected"]["levelled"]
    assert [row.key for row in sorted(result.quotes, key=lambda row: row.rank)] == case["expected"]["rank"]
    assert (result.flip, result.flip_items) == (True, ("pump_rental", "disposal"))


def test_median_of_the_reference():
    """Source: named in tests/reference/bids.json, bid-stat-01."""
    case = reference("bids", "bid-stat-01")
    assert levelling.median(case["inputs"]["quotes"]) == case["expected"]["median"]


@given(st.lists(st.integers(0, 10**9), min_size=1, max_size=9).map(sorted))
def test_median_agrees_with_the_standard_library(amounts):
    exact = Decimal(median(map(Decimal, amounts)))
    assert levelling.median(amounts) == int(exact.quantize(Decimal(1), rounding=ROUND_HALF_UP))


amounts_given = st.one_of(st.none(), st.just(INCLUDED), st.integers(0, 10**7))
fractions_given = st.integers(0, 1000).map(lambda thousandths: Decimal(thousandths) / 1000)


@st.composite
def quotes(draw, key="q"):
    amounts = draw(st.fixed_dictionaries(dict.fromkeys("abcd", amounts_given)))
    priced = any(isinstance(amount, int) for amount in amounts.values())
    return QuoteFacts(
        key,
        draw(st.sampled_from(["GBP", "JPY", "KWD"])),
        draw(st.decimals("0.001", "500", places=4)),
        amounts,
        discount_fraction=draw(fractions_given) if priced else Decimal(0),
        freight_minor=draw(st.integers(0, 10**6)) if priced else 0,
        tax_fraction=draw(fractions_given),
        tax_inside_fraction=draw(fractions_given),
        extras=draw(st.dictionaries(st.sampled_from("xy"), st.integers(-(10**5), 10**5))),
    )


several = st.lists(quotes(), min_size=1, max_size=4).map(
    lambda rows: [replace(row, key=str(n)) for n, row in enumerate(rows)]
)


def exactly(facts):
    """An independent way to the total of a quote in pence: in whole pounds and Decimal-free fractions, step by step."""
    digits = {"GBP": 2, "JPY": 0, "KWD": 3}[facts.currency]
    net = Fraction(sum(a for a in facts.amounts.values() if isinstance(a, int)), 10**digits) / (
        1 + Fraction(facts.tax_inside_fraction)
    )
    net -= net * Fraction(facts.discount_fraction)
    net += Fraction(facts.freight_minor, 10**digits) / (1 + Fraction(facts.tax_inside_fraction))
    net += net * Fraction(facts.tax_fraction)
    return net * Fraction(facts.rate) * 100


def rounded(exact):
    return int((Decimal(exact.numerator) / Decimal(exact.denominator)).quantize(Decimal(1), rounding=ROUND_HALF_UP))


@given(quotes())
def test_items_add_up_to_the_total_rounded_once(facts):
    priced = levelling.price_items(facts, currency="GBP")
    assert abs(sum(a for a in priced.values() if isinstance(a, int)) - rounded(exactly(facts))) == 0


@given(quotes())
def test_an_item_takes_its_share_of_everything(facts):
    whole = sum(a for a in facts.amounts.values() if isinstance(a, int))
    priced = levelling.price_items(facts, currency="GBP")
    for item, amount in facts.amounts.items():
        if not isinstance(amount, int):
            assert priced[item] == amount
        elif whole:
            assert abs(priced[item] - exactly(facts) * amount / whole) < 1


@given(several, st.sampled_from(["median", "highest"]), st.dictionaries(st.sampled_from("abcd"), st.integers(0, 10**6)))
def test_plugs_gaps_and_ranks_agree_with_a_plain_reckoning(facts, rule, plugs):
    """Oracle: each quote is looked at on its own, cell by cell, the way one would with a pencil."""
    result = level("abcd", *facts, plug=rule, plugs=plugs)
    for row, given_ in zip(result.quotes, facts, strict=True):
        for item, figure in row.items.items():
            others = [
                r.items[item].amount_minor
                for r, f in zip(result.quotes, facts, strict=True)
                if isinstance(f.amounts[item], int)
            ]
            middle = (
                int(Decimal(median(map(Decimal, others))).quantize(Decimal(1), rounding=ROUND_HALF_UP))
                if others
                else None
            )
            rule_says = middle if rule == "median" else max(others, default=None)
            expected = plugs.get(item, rule_says) if given_.amounts[item] is None else figure.amount_minor
            assert (figure.amount_minor, figure.plug) == (
                expected,
                given_.amounts[item] is None and expected is not None,
            )
        assert row.gaps == tuple(item for item in "abcd" if given_.amounts[item] is None)
        assert row.complete == all(figure.amount_minor is not None for figure in row.items.values())
        assert row.levelled_minor == sum(f.amount_minor or 0 for f in row.items.values()) + sum(given_.extras.values())
        better = [
            r for r in result.quotes if (not r.complete, r.levelled_minor) < (not row.complete, row.levelled_minor)
        ]
        assert row.rank == 1 + len(better)


@given(several)
def test_flip_and_spread_agree_with_their_words(facts):
    result = level("abcd", *facts)
    lowest = min(row.quoted_minor for row in result.quotes)
    assert result.flip == all(row.rank != 1 for row in result.quotes if row.quoted_minor == lowest)
    complete = [row.levelled_minor for row in result.quotes if row.complete]
    assert result.spread_minor == max(complete, default=0) - min(complete, default=0)
    assert result.flip or not result.flip_items


def test_included_is_nothing_and_no_price_for_others():
    result = level(
        ["a", "b"],
        quote("p", amounts={"a": 900, "b": INCLUDED}),
        quote("q", amounts={"a": 900, "b": 40}),
        quote("r", amounts={"a": 800}),
    )
    assert by_key(result)["p"].items["b"] == levelling.ItemFigure(0, False)
    assert by_key(result)["r"].items["b"] == levelling.ItemFigure(40, True)


def test_a_gap_that_nobody_prices_leaves_the_quote_last():
    result = level(
        ["a", "b"], quote("low", amounts={"a": 100, "b": None}), quote("full", amounts={"a": 900, "b": INCLUDED})
    )
    assert [(row.key, row.complete, row.rank) for row in result.quotes] == [("low", False, 2), ("full", True, 1)]
    assert (result.flip, result.flip_items) == (True, ("b",))


def test_equal_amounts_share_a_rank():
    result = level(["a"], *(quote(key, amounts={"a": amount}) for key, amount in (("p", 5), ("q", 5), ("r", 6))))
    assert [row.rank for row in result.quotes] == [1, 1, 3]


def test_a_flip_without_gaps_names_the_item_that_moved():
    taxed = quote("low", amounts={"a": 1000, "b": 10}, tax_fraction=Decimal("0.2"))
    result = level(["a", "b"], taxed, quote("plain", amounts={"a": 1050, "b": 20}))
    assert (result.flip, result.flip_items) == (True, ("a",))


def test_an_item_that_a_quote_does_not_name_is_a_gap():
    assert by_key(level(["a", "b", "c"], quote()))["q"].gaps == ("c",)


def test_items_at_no_charge_bear_freight_in_equal_parts():
    priced = levelling.price_items(quote(amounts={"a": 0, "b": 0, "c": None}, freight_minor=101), currency="GBP")
    assert priced == {"a": 51, "b": 50, "c": None}


def test_freight_without_a_priced_item_is_refused():
    with pytest.raises(NothingToShareOver):
        levelling.price_items(quote(amounts={"a": INCLUDED}, freight_minor=1), currency="GBP")


def test_without_the_amounts_as_given_a_flip_is_explained_by_gaps_alone():
    priced = {"low": {"a": 100, "b": None}, "full": {"a": 150, "b": 200}}
    result = levelling.fill_gaps(["a", "b"], priced, {"full": -100}, {"low": 100, "full": 350})
    assert (result.flip, result.flip_items) == (True, ("b",))


def test_a_package_without_quotes_has_no_spread_and_no_flip():
    assert levelling.fill_gaps(["a"], {}, {}, {}) == levelling.Levelling((), 0, False, ())
