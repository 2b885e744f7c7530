"""Decisions to compare: the one worked by hand, and generated ones."""

from decimal import Decimal

from hypothesis import strategies as st

from decisions.calc.facts import AdjustFacts, DecisionFacts, EffectFact, ItemFact, MustPassFact, OptionFacts
from tests.worked_tables import minor, table


def worked_decision() -> DecisionFacts:
    """The options of docs/worked/compare.md."""
    return DecisionFacts(tuple(map(_option, table("compare.md", "Options"))), 90000, 4995000, 4680000)


def _option(row: dict[str, str]) -> OptionFacts:
    return OptionFacts(
        row["option"],
        items=(ItemFact("levelled price", minor(row["items"])),),
        effects=(EffectFact("elsewhere", minor(row["effects"])),),
        extra_days=int(row["extra"]),
        float_days=int(row["float"]),
        adjust=AdjustFacts(Decimal(row["chance"]), (), minor(row["cost"]), int(row["days"])),
        yearly_minor=minor(row["yearly"]),
        years=int(row["years"]),
    )


_money = st.integers(0, 20_000)
_days = st.integers(0, 12)
_axes = st.lists(st.tuples(st.decimals(0, 5, places=1), st.decimals("0.5", 5, places=1)), min_size=1, max_size=2).map(
    tuple
)
_adjusts = st.one_of(
    st.none(),
    st.builds(AdjustFacts, st.decimals(0, 1, places=2), st.just(()), _money, _days, st.none() | _days),
    st.builds(AdjustFacts, st.none(), _axes, _money, _days, st.none() | _days),
)
_checks = st.builds(
    MustPassFact,
    name=st.just("load"),
    value=st.none() | st.decimals(0, 10, places=1),
    at_most=st.just(Decimal(7)),
    at_least=st.none() | st.just(Decimal(2)),
)
_options = st.builds(
    OptionFacts,
    id=st.just("x"),
    items=st.lists(st.builds(ItemFact, st.just("item"), _money), max_size=2).map(tuple),
    effects=st.lists(st.builds(EffectFact, st.just("effect"), st.integers(-5000, 5000)), max_size=1).map(tuple),
    extra_days=_days,
    float_days=_days,
    adjust=_adjusts,
    must_pass=st.lists(_checks, max_size=1).map(tuple),
    yearly_minor=st.integers(0, 500),
    years=st.integers(0, 12),
    discount=st.none() | st.decimals(0, "0.2", places=2),
)


@st.composite
def decisions(draw: st.DrawFn) -> DecisionFacts:
    options = draw(st.lists(_options, min_size=1, max_size=4))
    named = tuple(_named(option, f"o{place}") for place, option in enumerate(options))
    return DecisionFacts(named, draw(st.integers(0, 1500)), draw(st.none() | _money), draw(st.none() | _money))


def _named(option: OptionFacts, id_: str) -> OptionFacts:
    from dataclasses import replace

    return replace(option, id=id_)
