"""The hold points one starts from, held against facts with their sources (tests/reference/inspections.json)."""

import re
from decimal import Decimal

import pytest

from schedule.calc.starting_holds import STARTING_HOLDS, StartingCheck, StartingHold, named
from schedule.models import HoldCheck, HoldPoint
from tests.reference_values import reference


def expected(entry: str) -> dict:
    return reference("inspections", entry)["expected"]


def check(key: str, words: str) -> StartingCheck:
    (found,) = (one for one in named(key).checks if words in one.text)
    return found


def numbers(text: str) -> list[Decimal]:
    return [Decimal(found) for found in re.findall(r"\d+(?:\.\d+)?", text)]


def texts(hold: StartingHold) -> str:
    return " ".join(one.text.casefold() for one in hold.checks)


def test_the_water_test_of_drains_is_that_of_the_code_in_feet_and_in_metres():
    """IPC 312.2 and IRC P2503.5.1, read in a city's interpretation manual. A foot is 0.3048 m: 10 ft are 3.05 m."""
    fact, one = expected("hold-07"), check("drains", "Water test")
    assert numbers(one.us) == [fact["head_ft"], fact["hold_minutes"]]
    assert numbers(one.limit) == [round(fact["head_ft"] * Decimal("0.3048"), 2), fact["hold_minutes"]]
    assert one.source == reference("inspections", "hold-07")["source"]


def test_the_leak_test_allows_what_the_reference_allows():
    """ACI 350.1, hydrostatic class 0.05 % of the volume a day: of 3525.11 gallons 1.7626 a day, 0.108 in of fall in three days in a
    tank of 10 ft across."""
    entry = reference("inspections", "hold-11")
    (percent,) = numbers(check("leak", "Loss in a day").limit)
    assert percent == Decimal(str(entry["inputs"]["pct_per_day"]))
    volume = Decimal(str(entry["inputs"]["volume_gal"]))
    assert abs(volume * percent / 100 - Decimal(str(entry["expected"]["gal_per_day"]))) < Decimal("0.0005")


def test_before_footings_and_before_the_slab_stand_the_inspections_of_the_code():
    """IBC 110.3.1 and 110.3.2: bars, forms and what lies in the slab are seen before concrete."""
    assert reference("inspections", "hold-01")["source"].startswith("IBC 110.3.1")
    assert check("dig", "Forms and bars").source.startswith("IBC 110.3.1")
    assert check("pour", "pipes and conduits in the slab").source == reference("inspections", "hold-02")["source"]
    assert named("pour").where == "before concrete" and "before concrete" in expected("hold-02")["when"]


def test_before_walls_close_stands_what_the_frame_inspection_asks_for():
    """IBC 110.3.4: rough electrical, rough plumbing and heating ducts."""
    assert all(piece in texts(named("boards")) for piece in expected("hold-03")["requires_before"])


SUGGESTED = {
    "before_pour": ("drains", "loops", "bars", "pour"),
    "before_tank": ("stand",),
    "before_cover": ("boards", "loops"),
    "before_public": ("public",),
}
#: The words of the reference -> words that one of our checks has.
SAID = {
    "layout check": "cast-in plates", "formwork and rebar inspection": "levels of forms",
    "under-slab plumbing test and inspection": "pipes under pressure", "conduit and bonding inspection": "bonding clamp",
    "plinth cure and level survey": "spot levels", "anchor and frame inspection": "bolt positions",
    "rough electrical": "rough electrical", "rough plumbing": "rough plumbing", "pressure test": "test pressure",
    "fill and leak test": "fill and leak test", "GFCI test": "protective devices", "final inspection": "final inspection",
}  # fmt: skip


@pytest.mark.parametrize("stage", SUGGESTED)
def test_every_suggested_check_is_there(stage: str):
    """Derived from the code entries before it; common practice, no source (hold-12)."""
    ours = " ".join(texts(named(key)) for key in SUGGESTED[stage])
    assert [words for words in expected("hold-12")[stage] if SAID[words] not in ours] == []


def test_every_limit_says_where_it_is_from_and_fits_its_column():
    keys = [one.key for one in STARTING_HOLDS]
    assert len(keys) == len(set(keys)) >= 9
    column = {
        name: HoldCheck._meta.get_field(name).max_length for name in ("text", "limit", "limit_named", "evidence_named")
    }
    for one in (check for hold in STARTING_HOLDS for check in hold.checks):
        assert one.source and one.limit and one.evidence in HoldCheck.Evidence.values
        said = {"text": one.text, "limit": one.limit, "limit_named": one.source, "evidence_named": one.evidence_named}
        assert all(len(words) <= column[name] for name, words in said.items()) and len(one.us) <= column["limit"]


def test_every_starting_hold_point_asks_somebody_to_sign():
    assert all(hold.signers and hold.kind in HoldPoint.Kind.values for hold in STARTING_HOLDS)


def test_a_build_in_feet_gets_its_own_figures():
    assert (
        check("bars", "Cover").limit_in("us") == "1.5 in +/-0.25"
        and check("bars", "Cover").limit_in("metric") == "40 mm +/-5"
    )
