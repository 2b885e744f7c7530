"""Whether the contingency is used up faster than the work is done.

Neither figure says much by itself; a pot of which two thirds are gone is in good order when the work is nearly done, and
in danger when it has just begun (ADR 0125).
"""

from dataclasses import dataclass
from decimal import Decimal

from units.money import round_ratio


@dataclass(frozen=True, slots=True)
class Pace:
    """Shares between 0 and 1 as a rule [-], three decimals: of the pot that is drawn, of the work that is billed."""

    used: Decimal
    done: Decimal

    @property
    def faster(self) -> bool:
        """The pot is going faster than the work."""
        return self.used > self.done


def pace(*, drawn_minor: int, start_minor: int, invoiced_minor: int, likely_minor: int) -> Pace | None:
    """Hold the share of the contingency that is drawn against the share of the work that is billed.

    Args:
        drawn_minor: drawn on balance [minor units]; below zero where more came back than was drawn.
        start_minor: set aside at the start [minor units], zero or above.
        invoiced_minor: billed on all lines of work [minor units].
        likely_minor: what they are likely to cost in the end [minor units].
    Returns: both shares, or None where nothing was set aside or there is no work to hold it against.
    Source: our rule, ADR 0125; the comparison is common practice, no source.

    >>> pace(drawn_minor=1268000, start_minor=8200000, invoiced_minor=30000000, likely_minor=60000000)
    Pace(used=Decimal('0.155'), done=Decimal('0.500'))
    """
    if start_minor <= 0 or likely_minor <= 0:
        return None
    return Pace(_share(drawn_minor, start_minor), _share(invoiced_minor, likely_minor))


def _share(part: int, whole: int) -> Decimal:
    return Decimal(round_ratio(1000 * part, whole)).scaleb(-3)
