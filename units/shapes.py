"""The shapes of single values: text, choices, numbers, dates, currencies and amounts. See `units.reading`."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from units import money, percent
from units.reading import Scope, Shape, Unreadable, required, shown

#: A thousand million million major units: above every build, and far below where anything overflows.
MOST_MAJOR = Decimal(10) ** 15
_MOST_DECIMALS = 20
_WRITTEN = re.compile(r"-?[0-9]{1,20}(?:\.[0-9]{1,20})?")
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


@dataclass(frozen=True, slots=True)
class Text:
    """A name: some text of bounded length, not blank.

    >>> Text().read("Bedding", {})
    'Bedding'
    """

    most: int = 300
    wanted: str = "a text"

    def read(self, value: Any, scope: Scope) -> str:
        if not isinstance(value, str) or not value.strip():
            raise required(self)
        if len(value) > self.most:
            raise Unreadable(f"at most {self.most} characters are read, and {len(value)} are given")
        return value

    def schema(self) -> dict[str, Any]:
        return {"type": "string", "minLength": 1, "maxLength": self.most}


@dataclass(frozen=True, slots=True)
class Choice:
    """One of some words.

    >>> Choice(("median", "highest")).wanted
    '"median" or "highest"'
    """

    words: tuple[str, ...]

    @property
    def wanted(self) -> str:
        return either([f'"{word}"' for word in self.words])

    def read(self, value: Any, scope: Scope) -> str:
        if not isinstance(value, str) or value not in self.words:
            raise required(self)
        return value

    def schema(self) -> dict[str, Any]:
        return {"enum": list(self.words)}


@dataclass(frozen=True, slots=True)
class Flag:
    """True or false."""

    wanted: str = "true or false"

    def read(self, value: Any, scope: Scope) -> bool:
        if not isinstance(value, bool):
            raise required(self)
        return value

    def schema(self) -> dict[str, Any]:
        return {"type": "boolean"}


@dataclass(frozen=True, slots=True)
class Number:
    """An exact number within bounds; `above` is a bound that the number may not touch.

    >>> Number(Decimal(0), Decimal(1)).wanted, Number(above=Decimal(0)).wanted
    ('a number from 0 to 1', 'a number above 0')
    """

    low: Decimal = -(Decimal(10) ** 15)
    high: Decimal = Decimal(10) ** 15
    above: Decimal | None = None
    or_text: bool = False

    @property
    def wanted(self) -> str:
        if self.above is not None:
            return f"a number above {self.above}"
        return "a number" if self.low == -self.high else f"a number from {self.low:f} to {self.high:f}"

    def read(self, value: Any, scope: Scope) -> Decimal:
        number = plain_number(value, or_text=self.or_text)
        if number is None or not self.low <= number <= self.high or (self.above is not None and number <= self.above):
            raise required(self)
        if decimals(number) > _MOST_DECIMALS:
            raise Unreadable(f"at most {_MOST_DECIMALS} decimals are read")
        return number

    def schema(self) -> dict[str, Any]:
        low = {"minimum": int(self.low)} if self.above is None else {"exclusiveMinimum": int(self.above)}
        found = {"type": "number", **low, "maximum": int(self.high)}
        return {"anyOf": [found, {"type": "string", "pattern": f"^{_WRITTEN.pattern}$"}]} if self.or_text else found


@dataclass(frozen=True, slots=True)
class Whole:
    """A whole number within bounds.

    >>> Whole(0, 200).read(Decimal("10.0"), {})
    10
    """

    low: int
    high: int

    @property
    def wanted(self) -> str:
        return f"a whole number from {self.low} to {self.high}"

    def read(self, value: Any, scope: Scope) -> int:
        number = plain_number(value)
        if number is None or not self.low <= number <= self.high or number != int(number):
            raise required(self)
        return int(number)

    def schema(self) -> dict[str, Any]:
        return {"type": "integer", "minimum": self.low, "maximum": self.high}


@dataclass(frozen=True, slots=True)
class Day:
    """A date of the calendar.

    >>> Day().read("2026-11-25", {})
    datetime.date(2026, 11, 25)
    """

    wanted: str = "a date such as 2026-11-25"

    def read(self, value: Any, scope: Scope) -> date:
        if not isinstance(value, str) or not _DAY.fullmatch(value):
            raise required(self)
        try:
            return date.fromisoformat(value)
        except ValueError:
            raise Unreadable(f"{value} is no day of the calendar; {self.wanted} is required") from None

    def schema(self) -> dict[str, Any]:
        return {"type": "string", "format": "date"}


@dataclass(frozen=True, slots=True)
class Currency:
    """The code of a currency.

    >>> Currency().read("EUR", {})
    'EUR'
    """

    wanted: str = "a currency code such as EUR"

    def read(self, value: Any, scope: Scope) -> str:
        if not isinstance(value, str) or value not in money.CURRENCIES:
            said = f'"{shown(value, 12)}" is none' if isinstance(value, str) else "this is none"
            raise Unreadable(f"{self.wanted} is required; {said}")
        return value

    def schema(self) -> dict[str, Any]:
        return {"enum": list(money.CURRENCIES)}


@dataclass(frozen=True, slots=True)
class Amount:
    """Money as a number or a decimal string, read into minor units of the currency in scope (two digits without one).

    >>> Amount().read("18250.5", {"currency": "GBP"}), Amount(signed=True).read(-3, {"currency": "JPY"})
    (1825050, -3)
    """

    signed: bool = False
    scope_name: str = "currency"
    above_zero: bool = False

    @property
    def wanted(self) -> str:
        return "an amount above 0" if self.above_zero else "an amount" if self.signed else "an amount of 0 or more"

    def read(self, value: Any, scope: Scope) -> int:
        number = plain_number(value, or_text=True)
        if number is None:
            raise Unreadable("a number is required")
        if not -MOST_MAJOR <= number <= MOST_MAJOR:
            raise Unreadable(f"at most {MOST_MAJOR:f} is read, either way")
        if (number < 0 and not self.signed) or (number <= 0 and self.above_zero):
            raise Unreadable(f"{self.wanted} is required")
        return self._minor(number, scope.get(self.scope_name))

    def _minor(self, number: Decimal, currency: str | None) -> int:
        places = 2 if currency is None else money.digits(currency)
        given = decimals(number)
        if given > places:
            of = f"; {currency} has {places}" if currency else f"; {places} are read where no currency is named"
            raise Unreadable(f"this has {given} decimals{of}")
        return int(number.scaleb(places))

    def schema(self) -> dict[str, Any]:
        low = 0 if self.above_zero or not self.signed else -int(MOST_MAJOR)
        bounds = {"exclusiveMinimum" if self.above_zero else "minimum": low, "maximum": int(MOST_MAJOR)}
        written = _WRITTEN.pattern if self.signed else _WRITTEN.pattern.removeprefix("-?")
        return {"anyOf": [{"type": "number", **bounds}, {"type": "string", "pattern": f"^{written}$"}]}


@dataclass(frozen=True, slots=True)
class Percent:
    """A written percentage from 0% to 100%, read into a fraction; a plain 0 says the same as "0%".

    >>> Percent().read("8.25%", {})
    Decimal('0.0825')
    """

    wanted: str = 'a percentage from "0%" to "100%"'

    def read(self, value: Any, scope: Scope) -> Decimal:
        try:
            found = percent.fraction(value) if isinstance(value, str) else _only_zero(value)
        except percent.NotAPercentage:
            found = None
        if found is None or not 0 <= found <= 1:
            raise required(self)
        return found

    def schema(self) -> dict[str, Any]:
        return {"anyOf": [{"type": "string", "pattern": r"^[0-9]{1,9}(\.[0-9]{1,12})? ?%$"}, {"const": 0}]}


def _only_zero(value: Any) -> Decimal | None:
    return Decimal(0) if plain_number(value) == 0 else None


@dataclass(frozen=True, slots=True)
class Fraction1:
    """A fraction of one, as a number from 0 to 1 or as a percentage.

    >>> Fraction1().read(Decimal("0.03"), {}), Fraction1().read("3%", {})
    (Decimal('0.03'), Decimal('0.03'))
    """

    wanted: str = 'a number from 0 to 1, or a percentage such as "3%",'

    def read(self, value: Any, scope: Scope) -> Decimal:
        if isinstance(value, str):
            return Decimal(Percent(self.wanted).read(value, scope))
        found = plain_number(value)
        if found is None or not 0 <= found <= 1:
            raise required(self)
        return Decimal(Number().read(value, scope))

    def schema(self) -> dict[str, Any]:
        return {"anyOf": [{"type": "number", "minimum": 0, "maximum": 1}, Percent().schema()["anyOf"][0]]}


@dataclass(frozen=True, slots=True)
class AmountOrPercent:
    """An amount of money, read into (minor units, 0), or a percentage, read into (0, fraction)."""

    amount: Amount = Amount()
    wanted: str = 'an amount, or a percentage such as "5%",'

    def read(self, value: Any, scope: Scope) -> tuple[int, Decimal]:
        if isinstance(value, str) and value.rstrip().endswith("%"):
            return 0, Percent().read(value, scope)
        if plain_number(value, or_text=True) is None:
            raise required(self)
        return self.amount.read(value, scope), Decimal(0)

    def schema(self) -> dict[str, Any]:
        return {"anyOf": [*self.amount.schema()["anyOf"], Percent().schema()["anyOf"][0]]}


@dataclass(frozen=True, slots=True)
class Words:
    """Some words, or null, that stand for themselves beside values of another shape."""

    shape: Shape
    words: Mapping[str | None, Any]
    wanted: str

    def read(self, value: Any, scope: Scope) -> Any:
        if (value is None or isinstance(value, str)) and value in self.words:
            return self.words[value]
        if plain_number(value, or_text=True) is None:
            raise required(self)
        return self.shape.read(value, scope)

    def schema(self) -> dict[str, Any]:
        return {"anyOf": [self.shape.schema(), {"enum": list(self.words)}]}


@dataclass(frozen=True, slots=True)
class NotYet:
    """A key that is known to the trade but not worked out here: refused with the reason and the mend."""

    mend: str
    wanted: str = "nothing"

    def read(self, value: Any, scope: Scope) -> Any:
        raise Unreadable(self.mend)

    def schema(self) -> dict[str, Any]:
        return {"not": {}, "description": self.mend}


def plain_number(value: Any, *, or_text: bool = False) -> Decimal | None:
    """Give a JSON number as an exact decimal; None for anything else, and for what is not finite.

    Args:
        or_text: take a decimal string as well, such as "18250.00".

    >>> plain_number(0.1), plain_number("1.50", or_text=True), plain_number(True), plain_number(float("nan"))
    (Decimal('0.1'), Decimal('1.50'), None, None)
    """
    if isinstance(value, str) and or_text and _WRITTEN.fullmatch(value):
        return Decimal(value)
    if isinstance(value, bool) or not isinstance(value, int | float | Decimal):
        return None
    number = Decimal(repr(value)) if isinstance(value, float) else Decimal(value)
    return number if number.is_finite() else None


def decimals(number: Decimal) -> int:
    """Count the digits after the point that matter.

    >>> decimals(Decimal("1.50")), decimals(Decimal("1E+3")), decimals(Decimal("0.000"))
    (1, 0, 0)
    """
    _, digits_, exponent = number.as_tuple()
    if not number or not isinstance(exponent, int) or exponent >= 0:
        return 0
    zeros = next((place for place, digit in enumerate(reversed(digits_)) if digit), 0)
    return max(0, -exponent - zeros)


def either(words: list[str]) -> str:
    """Put words into a list that ends in "or".

    >>> either(["a", "b", "c"])
    'a, b or c'
    """
    return " or ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)
