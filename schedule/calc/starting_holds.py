"""Usual hold points of a build with heavy equipment on new concrete and services under the floor, to start from.

Every limit is a starting value: local code, the maker or the engineer overrides it, and the page says so. `source` points to
where a figure is from, in the words of a pointer and never of a text; most are common practice without a source.
Lengths and pressures are given for metric builds and for those in US customary units, each rounded as people say it.
"""

from dataclasses import dataclass

PRACTICE = "common practice, no source"
READING, PHOTOGRAPH, DOCUMENT, WORD = "reading", "photograph", "document", "word"


def _(text: str) -> str:
    """Mark words for translation; they are translated where they are shown."""
    return text


@dataclass(frozen=True, slots=True)
class StartingCheck:
    """One thing to look at; `us` is its limit where it reads otherwise in US customary units."""

    text: str
    limit: str
    evidence: str
    evidence_named: str = ""
    us: str = ""
    source: str = PRACTICE

    def limit_in(self, units: str) -> str:
        """The limit for a build in "metric" or "us" units."""
        return self.us if units == "us" and self.us else self.limit


@dataclass(frozen=True, slots=True)
class StartingHold:
    """A hold point to start from; `where` says in words before which work it stands."""

    key: str
    title: str
    where: str
    signers: tuple[str, ...]
    checks: tuple[StartingCheck, ...]
    kind: str = "hold"


_C = StartingCheck
_TAPE = _("photograph with tape, wide and close")

STARTING_HOLDS: tuple[StartingHold, ...] = (
    StartingHold(
        "dig", _("Bottom of dig"), _("before anything is laid in the dig"), (_("Structural engineer"), _("Building inspector")),
        (
            _C(_("Soft spots dug out and filled"), _("none left"), PHOTOGRAPH, _TAPE),
            _C(_("Level of formation"), "+0 / -20 mm", READING, _("level readings"), us="+0 / -0.75 in"),
            _C(_("Forms and bars of footings in place"), _("as drawing"), PHOTOGRAPH, _TAPE, source="IBC 110.3.1; IRC R109.1.1"),
            _C(_("Water kept below the dig"), _("dry"), PHOTOGRAPH),
        ),
    ),
    StartingHold(
        "drains", _("Drains before backfill"), _("before drains are covered"), (_("Plumber"), _("Site lead"), _("Building inspector")),
        (
            _C(_("Fall of each run"), "1 in 60 or steeper", READING, _("level readings")),
            _C(_("Water test: head on the section"), "3.05 m for 15 minutes", DOCUMENT, _("test log with gauge number and times"),
               us="10 ft for 15 minutes", source="IPC 312.2; IRC P2503.5.1"),
            _C(_("Bedding and surround"), _("100 mm all round"), PHOTOGRAPH, _TAPE, us=_("4 in all round")),
            _C(_("Open ends capped"), _("all"), PHOTOGRAPH),
        ),
    ),
    StartingHold(
        "loops", _("Pipes under pressure, first test"), _("before they are backfilled"), (_("Plumber"), _("Site lead")),
        (
            _C(_("Solvent joints cured"), _("as the maker of the cement"), WORD, _("time of the last joint")),
            _C(_("Test pressure"), _("1.5 times working pressure"), DOCUMENT, _("test log with gauge number and times"),
               source=_("common practice, no source; IPC 312.5 asks for working pressure at least")),
            _C(_("Drop over 2 hours"), "0.1 bar or less", READING, _("test log with gauge number and times"), us="1.5 psi or less"),
            _C(_("Each joint photographed"), _("all joints"), PHOTOGRAPH, _("numbered photographs")),
            _C(_("As-laid sketch with dimensions from two walls"), _("all bends and tees"), DOCUMENT, _("marked drawing")),
            _C(_("Sleeves and flanges through the slab"), _("no contact with bars"), PHOTOGRAPH, _TAPE),
        ),
    ),
    StartingHold(
        "bars", _("Membrane and bars"), _("before the pour"), (_("Concreter"), _("Structural engineer")),
        (
            _C(_("Membrane laps, patches and pipe collars"), _("150 mm laps, no holes"), PHOTOGRAPH, _("walk-round photographs"),
               us=_("6 in laps, no holes")),
            _C(_("Bars, size and spacing"), _("as drawing"), PHOTOGRAPH, _TAPE),
            _C(_("Laps and chairs"), _("as drawing"), PHOTOGRAPH, _TAPE),
            _C(_("Cover to top and bottom"), "40 mm +/-5", READING, _("tape photograph at 6 places"), us="1.5 in +/-0.25"),
            _C(_("Bonding clamp on the bars"), _("fixed and seen by the electrician"), PHOTOGRAPH),
        ),
    ),
    StartingHold(
        "pour", _("Before the pour"), _("before concrete"), (_("Structural engineer"), _("Building inspector"), _("Site lead")),
        (
            _C(_("Bars, pipes and conduits in the slab complete"), _("as drawing"), PHOTOGRAPH, _("wide photographs of each bay"),
               source="IBC 110.3.2"),
            _C(_("Cast-in plates and sleeves"), "+/-3 mm", READING, _("survey sheet of a second person"), us="+/-0.125 in"),
            _C(_("Levels of forms"), _("as drawing"), READING, _("level readings")),
            _C(_("Pipes under pressure"), _("test pressure at the start"), PHOTOGRAPH, _("gauge photograph with time")),
            _C(_("Mix ticket, slump and cubes"), _("as ordered"), DOCUMENT, _("ticket photograph, cube numbers")),
            _C(_("Weather"), _("5 C and rising, no rain in the finishing time"), WORD, _("forecast note"),
               us=_("40 F and rising, no rain in the finishing time")),
            _C(_("Pump, spare vibrator, finishing crew confirmed"), _("named and timed"), WORD, _("note of call")),
            _C(_("Joint plan and wash-out place"), _("marked on site"), PHOTOGRAPH),
        ),
    ),
    StartingHold(
        "kept", _("Pressure kept through the pour"), _("before anything is cut or fixed into the slab"), (_("Site lead"),),
        (
            _C(_("Gauge read each 15 minutes"), "no fall over 0.1 bar", DOCUMENT, _("test log with gauge number and times"),
               us="no fall over 1.5 psi"),
            _C(_("Cubes or cylinders taken"), _("two sets"), DOCUMENT, _("laboratory sheet")),
        ),
    ),
    StartingHold(
        "stand", _("Plinth or stand ready to be loaded"), _("before anything stands on it"), (_("Structural engineer"),),
        (
            _C(_("Strength for loading"), _("as the engineer says, by test and not by days"), DOCUMENT, _("laboratory sheet")),
            _C(_("Spot levels over the footprint"), _("as the maker of the vessel"), READING, _("survey sheet")),
            _C(_("Bolt positions"), "+/-3 mm", READING, _("survey sheet"), us="+/-0.125 in"),
            _C(_("Grout full under plates"), _("no voids by tapping"), PHOTOGRAPH),
            _C(_("Hold-down bolt torque"), _("as the engineer's sheet"), DOCUMENT, _("torque log")),
            _C(_("Corrosion protection touched up"), _("no bare steel"), PHOTOGRAPH),
        ),
    ),
    StartingHold(
        "vessel", _("Before the vessel is lifted in"), _("before the lift"), (_("Lift planner"), _("Structural engineer")),
        (
            _C(_("Route and doors measured"), _("clear all the way"), DOCUMENT, _("signed plan")),
            _C(_("Lift plan"), _("by a competent person"), DOCUMENT, _("signed plan")),
            _C(_("Floor load on the route"), _("as the engineer allows"), DOCUMENT),
            _C(_("Holding-down fitted the same day"), _("parts on site"), PHOTOGRAPH),
            _C(_("Floating when empty in a flood"), _("held down or filled"), DOCUMENT),
        ),
    ),
    StartingHold(
        "seams", _("Panels and seams"), _("before it is filled"), (_("Panel setter"), _("Owner")),
        (
            _C(_("Bearing on the sill"), _("full, no point loads"), PHOTOGRAPH, _TAPE),
            _C(_("Air in the tent"), _("as the maker, logged"), DOCUMENT, _("logger print")),
            _C(_("Trial seam"), _("as the maker"), DOCUMENT, _("test sheet")),
            _C(_("Curing time"), _("as the maker"), WORD, _("hours with times")),
        ),
    ),
    StartingHold(
        "leak", _("Leak test"), _("before coatings and before anything hides a joint"), (_("Structural engineer"), _("Owner")),
        (
            _C(_("Fill in stages with pauses"), _("as the maker or engineer"), DOCUMENT, _("log")),
            _C(_("Soaking time"), _("as the maker or engineer"), DOCUMENT, _("log")),
            _C(_("Loss in a day, less what the air takes"), "0.05% or less", READING, _("two marked gauges and an evaporation pan"),
               source=_("ACI 350.1, from memory: 0.05 % of the volume a day after a soak; acrylic and glass by the maker's test")),
            _C(_("Dry look at every joint"), _("no weep"), PHOTOGRAPH),
            _C(_("Level again under load"), _("as the maker"), READING, _("survey sheet")),
        ),
    ),
    StartingHold(
        "coating", _("Before coating"), _("before the coating goes on"), (_("Applicator"), _("Site lead")),
        (
            _C(_("Number of moisture probes"), _("3 for the first 100 m2, 1 more for each 100 m2"), DOCUMENT, _("plan of probes"),
               us=_("3 for the first 1,000 ft2, 1 more for each 1,000 ft2"), source="ASTM F2170"),
            _C(_("Depth of probes"), _("40% of the slab, 20% where it dries on both sides"), PHOTOGRAPH, source="ASTM F2170"),
            _C(_("Moisture reading after settling time"), _("as the maker of the coating"), READING, _("readings sheet")),
            _C(_("Hall at service state"), _("48 hours"), DOCUMENT, _("logger print"), source="ASTM F2170"),
            _C(_("Surface above dew point"), "3 C or more", READING, _("reading each 2 hours"), us="5 F or more"),
            _C(_("Pull-off test"), _("as the maker of the coating"), DOCUMENT, _("test sheet")),
            _C(_("Falls to drains by flooding"), _("no pond over 3 mm"), PHOTOGRAPH, _("photograph with scale"),
               us=_("no pond over 1/8 in")),
        ),
    ),
    StartingHold(
        "boards", _("Before boards and cladding"), _("before walls and ceilings are closed"), (_("Trades"), _("Building inspector")),
        (
            _C(_("Rough electrical"), _("inspected"), PHOTOGRAPH, _("photographs of every wall"), source="IBC 110.3.4"),
            _C(_("Rough plumbing, under pressure"), _("inspected"), PHOTOGRAPH, _("photographs of every wall"), source="IBC 110.3.4"),
            _C(_("Heating ducts"), _("inspected"), PHOTOGRAPH, source="IBC 110.3.4"),
            _C(_("Fire stops"), _("every opening"), PHOTOGRAPH, _("numbered photographs")),
            _C(_("Supports for what hangs on the wall"), _("as drawing"), PHOTOGRAPH, _TAPE),
        ),
    ),
    StartingHold(
        "public", _("Before the public comes in"), _("before the opening"), (_("Electrical foreman"), _("Building inspector")),
        (
            _C(_("Fill and leak test released"), _("no weep"), DOCUMENT),
            _C(_("Protective devices in wet areas tripped by test"), _("every circuit"), DOCUMENT, _("test sheet")),
            _C(_("Final inspection"), _("approved"), DOCUMENT, _("certificate")),
        ),
    ),
)  # fmt: skip


def named(key: str) -> StartingHold | None:
    """The starting hold point of a key, or None.

    >>> named("leak").title
    'Leak test'
    """
    return next((one for one in STARTING_HOLDS if one.key == key), None)
