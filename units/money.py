"""Money as whole minor units (cents, pence, yen), and the one door for rounding.

An amount is an `int` of minor units; how many make a major unit is the currency's. Everything that has to become a
whole minor unit passes through `round_minor`, so there is one rounding rule in the program: half away from zero, the
way an invoice is rounded by hand (ADR 0101). Nothing here is ever a float.
"""

from dataclasses import dataclass
from decimal import MAX_EMAX, MIN_EMIN, ROUND_HALF_UP, Context, Decimal
from fractions import Fraction

from units.currencies import CURRENCIES

__all__ = [
    "CURRENCIES",
    "CurrenciesDiffer",
    "Money",
    "NotWholeMinor",
    "UnknownCurrency",
    "as_text",
    "convert",
    "digits",
    "exact_rate",
    "round_minor",
    "round_ratio",
    "to_minor",
]

# Wide enough that no sum, product or shift of admitted figures is rounded on the way.
_WIDE = Context(prec=200, Emax=MAX_EMAX, Emin=MIN_EMIN, rounding=ROUND_HALF_UP)


class UnknownCurrency(ValueError):
    """The code is no currency of ISO 4217."""


class NotWholeMinor(ValueError):
    """The amount has more decimals than the currency."""


class CurrenciesDiffer(ValueError):
    """Two amounts in different currencies were added or compared."""


def digits(currency: str) -> int:
    """Tell how many digits a currency has after the point.

    Args:
        currency: code of ISO 4217, in capitals.
    Raises: UnknownCurrency.
    Source: ISO 4217, list one.

    >>> digits("GBP"), digits("JPY"), digits("KWD")
    (2, 0, 3)
    """
    try:
        return CURRENCIES[currency]
    except (KeyError, TypeError):
        raise UnknownCurrency(f"{currency!r:.40} is no currency code") from None


def to_minor(amount: Decimal, *, currency: str) -> int:
    """Turn an amount into whole minor units, without rounding.

    Args:
        amount: [major units], finite, any sign.
    Returns: [minor units].
    Raises: NotWholeMinor, UnknownCurrency.
    Source: our rule, ADR 0101.

    >>> to_minor(Decimal("18250.5"), currency="GBP")
    1825050
    """
    if not amount.is_finite():
        raise NotWholeMinor("an amount is a finite number")
    exact = amount.scaleb(digits(currency), context=_WIDE)
    whole = exact.to_integral_value()
    if exact != whole:
        raise NotWholeMinor(f"{amount} has more than the {digits(currency)} decimals of {currency}")
    return int(whole)


def round_minor(amount: Decimal | Fraction | int) -> int:
    """Round an exact number of minor units to a whole one, half away from zero.

    Args:
        amount: [minor units], finite, any sign.
    Returns: [minor units].
    Source: our rule, ADR 0101.

    >>> round_minor(Decimal("2.5")), round_minor(Decimal("-2.5")), round_minor(Fraction(7, 3))
    (3, -3, 2)
    """
    return round_ratio(*amount.as_integer_ratio())


def round_ratio(top: int, bottom: int) -> int:
    """Round a ratio of whole numbers to a whole minor unit, half away from zero; the quick way where there are many.

    Args:
        top: [minor units], any sign.
        bottom: [-], above zero.
    Returns: [minor units].
    Source: our rule, ADR 0101.

    >>> round_ratio(5, 2), round_ratio(-5, 2), round_ratio(7, 3)
    (3, -3, 2)
    """
    size = (2 * abs(top) + bottom) // (2 * bottom)
    return size if top >= 0 else -size


def as_text(minor: int, *, currency: str | None) -> str:
    """Write an amount as a plain decimal with the currency's digits, for files and not for pages.

    Args:
        minor: [minor units], any sign.
        currency: code of ISO 4217, or None where none is known: two digits.
    Raises: UnknownCurrency.

    >>> as_text(1825000, currency="GBP"), as_text(-5, currency="USD"), as_text(-5, currency="JPY")
    ('18250.00', '-0.05', '-5')
    """
    places = 2 if currency is None else digits(currency)
    sign, size = ("-" if minor < 0 else ""), str(abs(minor)).rjust(places + 1, "0")
    return f"{sign}{size}" if places == 0 else f"{sign}{size[:-places]}.{size[-places:]}"


def convert(minor: int, *, from_currency: str, to_currency: str, rate: Decimal) -> int:
    """Turn an amount of one currency into another, rounded once.

    Args:
        minor: [minor units of `from_currency`], any sign.
        rate: units of `to_currency` per unit of `from_currency` [-], above zero.
    Returns: [minor units of `to_currency`], rounded half away from zero.
    Raises: UnknownCurrency.
    Source: our rule, ADR 0101.

    >>> convert(11800000, from_currency="USD", to_currency="GBP", rate=Decimal("0.79"))
    9322000
    """
    return round_minor(minor * exact_rate(rate, from_currency=from_currency, to_currency=to_currency))


def exact_rate(rate: Decimal, *, from_currency: str, to_currency: str) -> Fraction:
    """Give the exact factor from minor units of one currency to minor units of another.

    Args:
        rate: units of `to_currency` per unit of `from_currency` [-].
    Returns: [minor units per minor unit].
    Raises: UnknownCurrency.

    >>> exact_rate(Decimal("150"), from_currency="USD", to_currency="JPY")
    Fraction(3, 2)
    """
    return Fraction(rate) * Fraction(10) ** (digits(to_currency) - digits(from_currency))


@dataclass(frozen=True, slots=True)
class Money:
    """An amount that knows its currency, and refuses to be mixed with another.

    >>> Money(150, "GBP") + Money(-50, "GBP")
    Money(minor=100, currency='GBP')
    """

    minor: int
    currency: str

    def __add__(self, other: "Money") -> "Money":
        return Money(self.minor + self._like(other), self.currency)

    def __sub__(self, other: "Money") -> "Money":
        return Money(self.minor - self._like(other), self.currency)

    def __neg__(self) -> "Money":
        return Money(-self.minor, self.currency)

    def __lt__(self, other: "Money") -> bool:
        return self.minor < self._like(other)

    def __le__(self, other: "Money") -> bool:
        return self.minor <= self._like(other)

    def __gt__(self, other: "Money") -> bool:
        return self.minor > self._like(other)

    def __ge__(self, other: "Money") -> bool:
        return self.minor >= self._like(other)

    def __str__(self) -> str:
        return f"{as_text(self.minor, currency=self.currency)} {self.currency}"

    def _like(self, other: "Money") -> int:
        if self.currency != other.currency:
            raise CurrenciesDiffer(f"{self.currency} and {other.currency} do not add up; convert one first")
        return other.minor
