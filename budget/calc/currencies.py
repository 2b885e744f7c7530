"""What exchange rates make of an agreement in another currency, between the day it was agreed and the day it is paid.

What is billed counts at the rate it was billed and paid at; what is not yet billed counts at today's rate. The
difference to the rate of the agreement is the movement from currency, and is shown apart from every other cause.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal

from units import money


@dataclass(frozen=True, slots=True)
class Billed:
    """A part of the agreed amount that was billed: in its own currency, and what it came to in the project's [minor units]."""

    quoted_minor: int
    cost_minor: int


@dataclass(frozen=True, slots=True)
class Foreign:
    """An agreed amount in another currency [minor units of `currency`], and the two rates it is seen at [-]."""

    currency: str
    agreed_quoted_minor: int
    rate: Decimal
    today_rate: Decimal
    billed: tuple[Billed, ...] = ()


def unbilled_minor(agreed: Foreign) -> int:
    """Give what is still to be billed of an agreed amount.

    Returns: [minor units of its currency], never below zero.
    Source: our rule, ADR 0121.

    >>> unbilled_minor(Foreign("EUR", 15520000, Decimal("0.86"), Decimal("0.874"), (Billed(4656000, 4013472),)))
    10864000
    """
    return max(0, agreed.agreed_quoted_minor - sum(part.quoted_minor for part in agreed.billed))


def movement_minor(agreed: Foreign, *, currency: str) -> int:
    """Say what rates have added to an agreed amount since it was agreed.

    Args:
        agreed: the amount, its rates and what was billed of it.
        currency: the project's.
    Returns: [minor units of the project's currency], above zero for dearer; each part rounded on its own.
    Raises: units.money.UnknownCurrency.
    Source: our rule, ADR 0121.

    >>> billed = (Billed(4656000, 4013472), Billed(4656000, 4055376))
    >>> movement_minor(Foreign("EUR", 15520000, Decimal("0.86"), Decimal("0.874"), billed), currency="GBP")
    147440
    """
    billed = sum(part.cost_minor - _at(agreed, part.quoted_minor, agreed.rate, currency) for part in agreed.billed)
    rest = unbilled_minor(agreed)
    return billed + _at(agreed, rest, agreed.today_rate, currency) - _at(agreed, rest, agreed.rate, currency)


def billed_movement_minor(agreed: Foreign, *, currency: str) -> int:
    """Say what rates have added to what was billed already, as part of the whole movement.

    Args and returns: as in `movement_minor`.
    Raises: units.money.UnknownCurrency.
    Source: our rule, ADR 0121.

    >>> billed = (Billed(4656000, 4013472), Billed(4656000, 4055376))
    >>> billed_movement_minor(Foreign("EUR", 15520000, Decimal("0.86"), Decimal("0.874"), billed), currency="GBP")
    60528
    """
    return movement_minor(replace(agreed, today_rate=agreed.rate), currency=currency)


def exposure_minor(agreed: Iterable[Foreign], *, currency: str, swing_percent: Decimal) -> int:
    """Say how far the unbilled rest of agreements may still move with their rates, either way.

    Args:
        swing_percent: how far a rate may go from today's [%], zero or above.
    Returns: [minor units of the project's currency], zero or above.
    Source: our rule, ADR 0121.

    >>> euro = Foreign("EUR", 12376000, Decimal("0.86"), Decimal("0.874"))
    >>> exposure_minor([euro], currency="GBP", swing_percent=Decimal(5))
    540831
    """
    return sum(
        money.round_minor(
            unbilled_minor(one)
            * money.exact_rate(one.today_rate * swing_percent / 100, from_currency=one.currency, to_currency=currency)
        )
        for one in agreed
    )


def _at(agreed: Foreign, minor: int, rate: Decimal, currency: str) -> int:
    return money.convert(minor, from_currency=agreed.currency, to_currency=currency, rate=rate)
