"""How a saving comes true: from an idea to money in the bank, in step with what is billed on its lines.

A saving is realised as its lines are invoiced, and is banked only when they are closed. What a line saves in all has to
explain the way from its original quote to its likely final, to the cent.
"""

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from units.money import round_minor

IDEA, PRICED, DECIDED, CONTRACTED, PART_REALISED, BANKED = (
    "idea",
    "priced",
    "decided",
    "contracted",
    "part realised",
    "banked",
)
#: The share is shown, and counted with, in hundredths of a percent.
SHARE_STEP = Decimal("0.0001")


def invoiced_share(invoiced_minor: int, agreed_minor: int) -> Decimal:
    """Say which part of an agreed sum was invoiced.

    Args:
        invoiced_minor: what counts as invoiced [minor units], may be below zero after a credit note.
        agreed_minor: the sum agreed, without changes [minor units].
    Returns: 0 to 1 [-], in hundredths of a percent, rounded half up; 0 where nothing was agreed.
    Source: our rule, ADR 0127.

    >>> invoiced_share(3573328, 8840800)
    Decimal('0.4042')
    """
    if agreed_minor <= 0:
        return Decimal("0.0000")
    steps = round_minor(Fraction(max(0, min(invoiced_minor, agreed_minor)), agreed_minor) * 10_000)
    return (Decimal(steps) * SHARE_STEP).quantize(SHARE_STEP, ROUND_HALF_UP)


def realised_minor(saving_minor: int, share: Decimal) -> int:
    """Say how much of a saving has come true, by the share as it is shown.

    Args:
        saving_minor: [minor units], below zero for an extra.
        share: 0 to 1 [-].
    Returns: [minor units], rounded half away from zero.
    Source: our rule, ADR 0127.

    >>> realised_minor(906480, Decimal("0.4042"))
    366399
    """
    return round_minor(saving_minor * Fraction(share))


def state(stage: str, *, let: bool, invoiced_minor: int, closed: bool) -> str:
    """Say how far a saving has come.

    Args:
        stage: what was said of it: "idea", "priced" or "decided".
        let: every line of it is let.
        invoiced_minor: what was billed on its lines [minor units].
        closed: every line of it is closed.
    Returns: one of the six words; only what is decided goes further with its lines.
    Source: our rule, ADR 0127.

    >>> state("decided", let=True, invoiced_minor=100, closed=False), state("priced", let=True, invoiced_minor=9, closed=True)
    ('part realised', 'priced')
    """
    if stage != DECIDED:
        return stage
    if closed:
        return BANKED
    if not let:
        return DECIDED
    return PART_REALISED if invoiced_minor > 0 else CONTRACTED


def realised_share(state: str, invoiced_minor: int, agreed_minor: int) -> Decimal:
    """Say which part of a saving has come true: all of it once banked, else in step with what is billed.

    Args:
        state: as `state` gives it.
        invoiced_minor, agreed_minor: as in `invoiced_share`.
    Returns: 0 to 1 [-], in hundredths of a percent.
    Source: our rule, ADR 0127.

    >>> realised_share("banked", 900, 1000), realised_share("part realised", 900, 1000), realised_share("idea", 900, 1000)
    (Decimal('1.0000'), Decimal('0.9000'), Decimal('0.0000'))
    """
    if state == BANKED:
        return Decimal("1.0000")
    return invoiced_share(invoiced_minor if state == PART_REALISED else 0, agreed_minor)


def of_sum(amount_minor: int, realised_minor: int, *, closed: bool) -> str:
    """Say how far a sum has come that is agreed already: a change, or what exchange rates did.

    Args:
        amount_minor, realised_minor: [minor units], of either sign.
        closed: its line is closed.
    Returns: "contracted", "part realised" or "banked".
    Source: our rule, ADR 0127.

    >>> of_sum(-4350, -4350, closed=False), of_sum(-1120, 0, closed=False), of_sum(-1120, 0, closed=True)
    ('part realised', 'contracted', 'banked')
    """
    if closed:
        return BANKED
    return PART_REALISED if realised_minor else CONTRACTED


def unexplained(
    original_minor: int, likely_minor: int, *, entries: int, moved: int, likely_changes: int, plugs: int
) -> int:
    """Test a line: what of the way from its original quote to its likely final the book does not explain.

    Args:
        original_minor, likely_minor: [minor units].
        entries: what the counted entries of the line come to, above zero for saved.
        moved: what was moved to another line or put off; it explains, and is no saving.
        likely_changes: proposed changes by their chance, above zero for dearer.
        plugs: gaps that a proposed change has taken the place of.
    Returns: [minor units], 0 where the book explains the line to the cent.
    Source: our rule, ADR 0127.

    >>> unexplained(4125000, 4170800, entries=-71000, moved=0, likely_changes=100800, plugs=126000)
    0
    """
    return original_minor - likely_minor - (entries + moved - likely_changes + plugs)
