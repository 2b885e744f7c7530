"""Is an exchange rate plausible beside the one before it?"""

from decimal import Decimal

#: Beyond this share of the earlier rate a slip is likelier than a market: most often the rate was turned upside down.
UNUSUAL = Decimal("0.2")


def is_unusual(rate: Decimal, before: Decimal | None) -> bool:
    """Tell whether a rate lies more than a fifth away from the one before.

    Args:
        rate: the new rate [-], above zero.
        before: the newest earlier rate of the same currency [-], or None.
    Source: our rule; a fifth is a judgement, for it only asks a person to look again.

    >>> is_unusual(Decimal("1.16"), Decimal("0.86")), is_unusual(Decimal("0.90"), Decimal("0.86"))
    (True, False)
    """
    return before is not None and abs(rate - before) > UNUSUAL * before
