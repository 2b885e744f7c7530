"""The book of savings: what each entry counts as, what they come to, and whether they explain the lines they stand on.

An entry is above zero where it saves and below where it costs. What was bought is the same function for less. A scope
cut and a lower quality keep money, too, and are named for what they are. Extras, effects on other lines, changes,
owners' additions and exchange rates eat into it. What was moved, put off, avoided, or held by the comparison already is
shown and never added. One saving belongs to one set of lines: what is claimed there never passes what was saved there.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from decisions.calc import savings_life

SAME_FOR_LESS, SCOPE_CUT, LOWER_QUALITY, DEFERRAL, MOVED, EFFECT, AVOIDED, EXTRA = (
    "same for less",
    "scope cut",
    "lower quality",
    "deferral",
    "moved",
    "effect",
    "avoided",
    "extra",
)
OVERAGE, ADDITION, CURRENCY, CARRIED, SPARED = ("overage", "addition", "currency", "carried", "spared")
KEPT = (SCOPE_CUT, LOWER_QUALITY, SPARED)
EATS = (EXTRA, EFFECT, ADDITION, OVERAGE, CURRENCY)
COUNTED = (SAME_FOR_LESS, *KEPT, *EATS)
NOT_COUNTED = (DEFERRAL, MOVED, AVOIDED, CARRIED)
#: What shares out the difference between an original quote and the price agreed.
CLAIMS = (SAME_FOR_LESS, SCOPE_CUT, LOWER_QUALITY, DEFERRAL, MOVED, EXTRA)


@dataclass(frozen=True, slots=True)
class Part:
    """What an entry counts as, how much was promised and how much of it came true [minor units]."""

    kind: str
    amount_minor: int
    realised_minor: int


@dataclass(frozen=True, slots=True)
class Totals:
    """Sums of a book [minor units]: above zero for saved, below for eaten."""

    bought_minor: int
    realised_minor: int
    kept_minor: int
    eaten_minor: int
    net_minor: int
    by_kind: Mapping[str, Part]


@dataclass(frozen=True, slots=True)
class Claim:
    """What an entry claims on its lines [minor units]; `lines` are their keys.

    A change claims nothing of what a line was let for less: it came after.
    """

    kind: str
    amount_minor: int
    lines: tuple[int, ...]
    of_change: bool = False

    @property
    def shares(self) -> bool:
        """It shares out the difference between original quote and price."""
        return self.kind in CLAIMS and not self.of_change


@dataclass(frozen=True, slots=True)
class LineFigures:
    """A line that was let [minor units]: `price_minor` is what was agreed with its gaps and what is still to be let.

    `likely_changes_minor` are proposed changes by their chance, `plugs_minor` the gaps that they took the place of; both
    nothing where the line is closed or bears an own forecast, which hold them already.
    """

    line: int
    original_minor: int
    price_minor: int
    likely_minor: int
    likely_changes_minor: int = 0
    plugs_minor: int = 0


@dataclass(frozen=True, slots=True)
class Proof:
    """Whether the entries of one set of lines explain the way from original quote to likely final [minor units]."""

    lines: tuple[int, ...]
    original_minor: int
    likely_minor: int
    entries_minor: int
    moved_minor: int
    likely_changes_minor: int
    plugs_minor: int
    unexplained_minor: int


def of_change(amount_minor: int, billed_minor: int, *, by_owner: bool, carried_minor: int | None) -> tuple[Part, ...]:
    """Say what an agreed change counts as.

    Args:
        amount_minor: above zero for dearer [minor units].
        billed_minor: what invoices that name it have billed.
        by_owner: an owner's addition.
        carried_minor: the gap it prices, which the comparison of the quotes held already; None for none.
    Returns: a cut, an addition or an overage; with a gap, what was held already, then the difference to it.
    Source: our rule, ADR 0127.

    >>> of_change(190000, 0, by_owner=False, carried_minor=None)
    (Part(kind='overage', amount_minor=-190000, realised_minor=0),)
    >>> [(part.kind, part.amount_minor) for part in of_change(200, 0, by_owner=False, carried_minor=185)]
    [('carried', -185), ('overage', -15)]
    """
    if carried_minor is None:
        found = [_of_sum(amount_minor, billed_minor, by_owner, SCOPE_CUT)]
    else:
        held = min(carried_minor, max(0, billed_minor))
        over = amount_minor - carried_minor
        beyond = billed_minor - held if over > 0 else over if billed_minor >= amount_minor > 0 else 0
        found = [Part(CARRIED, -carried_minor, -held), _of_sum(over, beyond, by_owner, SPARED)]
    return tuple(part for part in found if part.amount_minor)


def _of_sum(amount_minor: int, billed_minor: int, by_owner: bool, spared: str) -> Part:
    kind = spared if amount_minor < 0 else ADDITION if by_owner else OVERAGE
    return Part(kind, -amount_minor, -billed_minor)


def totals(parts: Iterable[Part]) -> Totals:
    """Add up a book.

    Returns: what was bought and realised of it; what cuts kept; what ate into it; and the net of all that counts. What
        is not counted stands in `by_kind` alone.
    Source: our rule, ADR 0127.

    >>> seen = totals([Part("same for less", 900, 300), Part("overage", -200, 0), Part("avoided", 5000, 0)])
    >>> seen.bought_minor, seen.realised_minor, seen.eaten_minor, seen.net_minor
    (900, 300, -200, 700)
    """
    sums: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    for part in parts:
        sums[part.kind][0] += part.amount_minor
        sums[part.kind][1] += part.realised_minor
    by_kind = {kind: Part(kind, *sums[kind]) for kind in (*COUNTED, *NOT_COUNTED) if kind in sums}
    promised = {kind: part.amount_minor for kind, part in by_kind.items()}
    kept, eaten = (sum(promised.get(kind, 0) for kind in kinds) for kinds in (KEPT, EATS))
    bought = by_kind.get(SAME_FOR_LESS, Part(SAME_FOR_LESS, 0, 0))
    return Totals(
        bought_minor=bought.amount_minor,
        realised_minor=bought.realised_minor,
        kept_minor=kept,
        eaten_minor=eaten,
        net_minor=bought.amount_minor + kept + eaten,
        by_kind=by_kind,
    )


def left_to_claim(line: int, lines: Iterable[LineFigures], claims: Sequence[Claim]) -> int:
    """Say what of the difference between original quote and price nobody has claimed yet on a line.

    Args:
        line: the key of the line.
        lines: every line that was let; `line` is one of them.
        claims: the entries that stand; kinds that share out nothing are left out of the sum.
    Returns: [minor units], above zero for a saving to be named, below for an extra; for lines that one entry ties
        together, what is left on all of them.
    Source: our rule, ADR 0127.

    >>> let = [LineFigures(1, 1000, 800, 800)]
    >>> left_to_claim(1, let, [Claim("same for less", 150, (1,)), Claim("avoided", 9000, (1,))])
    50
    """
    figures = {row.line: row for row in lines}
    (group,) = (group for group in _groups(figures, claims) if line in group)
    saved = sum(figures[key].original_minor - figures[key].price_minor for key in group)
    return saved - sum(claim.amount_minor for claim in claims if claim.shares and group & set(claim.lines))


def may_claim(amount_minor: int, left_minor: int) -> bool:
    """Say whether an entry fits into what is left to claim: a saving into a saving, an extra into an extra.

    Args:
        amount_minor: above zero for a saving, below for an extra [minor units].
        left_minor: as `left_to_claim` gives it.
    Source: our rule, ADR 0127.

    >>> may_claim(50, 50), may_claim(51, 50), may_claim(-10, -10), may_claim(-10, 50)
    (True, False, True, False)
    """
    return 0 < amount_minor <= left_minor or left_minor <= amount_minor < 0


def prove(lines: Sequence[LineFigures], claims: Sequence[Claim]) -> tuple[Proof, ...]:
    """Test every line that was let: do the entries explain the way from its original quote to its likely final?

    Args:
        lines: in the order of the page, each once.
        claims: every entry with its lines, counted or not.
    Returns: one proof per line, or per set of lines that one entry ties together, in the order of their first line.
    Source: our rule, ADR 0127.

    >>> (proof,) = prove([LineFigures(1, 1000, 800, 850)], [Claim("same for less", 200, (1,)), Claim("overage", -50, (1,))])
    >>> proof.entries_minor, proof.unexplained_minor
    (150, 0)
    """
    figures = {row.line: row for row in lines}
    groups = _groups(figures, claims)
    order = {line: index for index, line in enumerate(figures)}
    place = {line: index for index, group in enumerate(groups) for line in group}
    here: list[list[Claim]] = [[] for _group in groups]
    for claim in claims:
        for index in {place[line] for line in claim.lines if line in place}:
            here[index].append(claim)
    return tuple(
        _prove([figures[line] for line in sorted(group, key=order.__getitem__)], found)
        for group, found in zip(groups, here, strict=True)
    )


def _prove(rows: Sequence[LineFigures], claims: Sequence[Claim]) -> Proof:
    entries = sum(claim.amount_minor for claim in claims if claim.kind in COUNTED)
    moved = sum(claim.amount_minor for claim in claims if claim.kind in (MOVED, DEFERRAL))
    original, likely = sum(row.original_minor for row in rows), sum(row.likely_minor for row in rows)
    changes, plugs = sum(row.likely_changes_minor for row in rows), sum(row.plugs_minor for row in rows)
    left = savings_life.unexplained(original, likely, entries=entries, moved=moved, likely_changes=changes, plugs=plugs)
    return Proof(tuple(row.line for row in rows), original, likely, entries, moved, changes, plugs, left)


def _groups(keys: Iterable[int], claims: Sequence[Claim]) -> list[set[int]]:
    """Sets of lines that an entry ties together, in the order of their first line."""
    found = {key: {key} for key in keys}
    for claim in claims:
        joined = set().union(*(found.get(line, set()) for line in claim.lines))
        for line in joined:
            found[line] = joined
    return list({id(group): group for group in found.values()}.values())
