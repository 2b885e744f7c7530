"""What a quantity comes to at a rate."""

from decimal import Decimal
from fractions import Fraction

from units import money


def extended(quantity: Decimal, rate: Decimal, *, currency: str) -> int:
    """Price a quantity.

    Args:
        quantity: [any unit], zero or above.
        rate: [major units per that unit], zero or above; may have more decimals than the currency.
        currency: code of ISO 4217.
    Returns: [minor units], rounded once, half away from zero.
    Source: our rule, ADR 0101.

    >>> extended(Decimal("12.5"), Decimal("3.333"), currency="GBP")
    4166
    """
    return money.round_minor(Fraction(quantity) * Fraction(rate) * 10 ** money.digits(currency))
