"""How much of a line's price has been billed, beside how much of its work was seen done.

Money that runs ahead of the work is money that nobody can hold back when the work is not good. A difference of up to
ten percentage points is taken for the roughness of looking (ADR 0109).
"""

from decimal import Decimal
from fractions import Fraction

from units.money import round_ratio

#: Percentage points that a claim may be ahead of what was seen.
ROUGHNESS = 10


def claimed_percent(invoiced_minor: int, agreed_minor: int, changes_minor: int) -> Decimal:
    """Say how much of a line's price has been billed.

    Args:
        invoiced_minor: billed so far [minor units].
        agreed_minor: agreed amount [minor units].
        changes_minor: agreed changes [minor units], any sign.
    Returns: [%] with one decimal place, rounded half away from zero; above 100 where more was billed. Of nothing agreed,
        nothing billed is 0 and anything billed 100.
    Source: our rule, ADR 0109.

    >>> claimed_percent(980000, 1590000, 112000)
    Decimal('57.6')
    """
    worth = agreed_minor + changes_minor
    if worth <= 0:
        return Decimal("100.0") if invoiced_minor > 0 else Decimal("0.0")
    share = Fraction(1000 * invoiced_minor, worth)
    return Decimal(round_ratio(share.numerator, share.denominator)).scaleb(-1)


def ahead(claimed: Decimal, seen: Decimal | None) -> bool:
    """Tell whether a claim is ahead of what was seen done.

    Args:
        claimed: billed [%].
        seen: seen done [%], or None where nobody looked.
    Returns: True for more than ten percentage points.
    Source: our rule, ADR 0109; common practice, no source.

    >>> ahead(Decimal("50.0"), Decimal(30)), ahead(Decimal("54.5"), Decimal(52)), ahead(Decimal(90), None)
    (True, False, False)
    """
    return seen is not None and claimed - seen > ROUGHNESS
