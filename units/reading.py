"""A small declarative reader: one description of a JSON document both checks it and writes its JSON Schema.

A shape (`Text`, `Amount`, `Rows`, `Record`, …) reads a plain JSON value into a frozen one, or raises `Unreadable`, which
names the place and the mend: `quotes[2].rate: a number above 0 is required`. Amounts are read in the currency that a
record further out has named, so that too many decimals are caught where they stand. Nothing that was sent is echoed
without its control characters taken out and its length cut.

The shapes of single values are in `units.shapes`; here are the ones that hold others, and the door for text.
"""

import json
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from difflib import get_close_matches
from types import MappingProxyType
from typing import Any, Protocol

MOST_BYTES = 16 * 1024 * 1024
DIALECT = "https://json-schema.org/draft/2020-12/schema"
#: {name of a scope: currency code}, as records further out have set it.
Scope = Mapping[str, str]
NOWHERE: Scope = MappingProxyType({})
REQUIRED: Any = object()


class Unreadable(ValueError):
    """The input does not fit: where, and what would mend it.

    >>> str(Unreadable("a number is required").under("rate").under(2).under("quotes"))
    'quotes[2].rate: a number is required'
    """

    def __init__(self, mend: str, path: tuple[str | int, ...] = ()) -> None:
        super().__init__(mend)
        self.mend = mend
        self.path = path

    def under(self, step: str | int) -> "Unreadable":
        return Unreadable(self.mend, (step, *self.path))

    @property
    def place(self) -> str:
        steps = [f"[{step}]" if isinstance(step, int) else f".{shown(step)}" for step in self.path]
        return "".join(steps).removeprefix(".") or "input"

    def __str__(self) -> str:
        return f"{self.place}: {self.mend}"


def shown(text: str, most: int = 60) -> str:
    """Make a text from outside fit to be shown on one line: printable, and cut after some characters.

    >>> shown("a\\x1b[31m" + "b" * 99, 10)
    'a?[31mbbbb…'
    """
    printable = "".join(sign if sign.isprintable() else "?" for sign in text[:most])
    return printable + "…" if len(text) > most else printable


class Shape(Protocol):
    """What every shape can do."""

    @property
    def wanted(self) -> str:
        """What is required, in words that follow "… is required"."""

    def read(self, value: Any, scope: Scope) -> Any:
        """Give the value as read. Raises: Unreadable."""

    def schema(self) -> dict[str, Any]:
        """Give the JSON Schema of the values that are read."""


def required(shape: Shape) -> Unreadable:
    """Say what a shape wants, as the fault to raise."""
    return Unreadable(f"{shape.wanted} is required")


@dataclass(frozen=True, slots=True)
class Field:
    """One key of a record. Without a default it must be given; `null` counts as left out where `or_null` says so."""

    shape: Shape
    default: Any = REQUIRED
    or_null: bool = False
    #: the value read becomes the currency of these scopes for the fields after it and all they hold
    sets: tuple[str, ...] = ()

    def schema(self) -> dict[str, Any]:
        found = self.shape.schema()
        return {"anyOf": [found, {"type": "null"}]} if self.or_null else found


@dataclass(frozen=True, slots=True)
class Record:
    """An object with known keys, read in the order they are described; a key that is not known is refused.

    `check` is called with what was read and raises `Unreadable` where the values do not fit together.
    """

    fields: Mapping[str, Field]
    check: Callable[[Mapping[str, Any]], None] | None = None
    wanted: str = "an object"

    def read(self, value: Any, scope: Scope) -> Mapping[str, Any]:
        if not isinstance(value, dict):
            raise required(self)
        self._refuse_unknown(value)
        found: dict[str, Any] = {}
        for name, described in self.fields.items():
            found[name] = self._field(name, described, value, scope)
            if described.sets and found[name] is not None:
                scope = {**scope, **dict.fromkeys(described.sets, found[name])}
        frozen = MappingProxyType(found)
        if self.check is not None:
            self.check(frozen)
        return frozen

    def _field(self, name: str, described: Field, value: Mapping[str, Any], scope: Scope) -> Any:
        left_out = name not in value or (described.or_null and value[name] is None)
        if left_out and described.default is REQUIRED:
            raise Unreadable(f"{described.shape.wanted} is required, and nothing is given").under(name)
        if left_out:
            return described.default
        try:
            return described.shape.read(value[name], scope)
        except Unreadable as fault:
            raise fault.under(name) from None

    def _refuse_unknown(self, value: Mapping[str, Any]) -> None:
        for key in value:
            if key not in self.fields:
                raise Unreadable(f'"{shown(key)}" is not known here{nearest(key, list(self.fields))}')

    def schema(self) -> dict[str, Any]:
        return {
            "type": "object",
            "properties": {name: described.schema() for name, described in self.fields.items()},
            "required": [name for name, described in self.fields.items() if described.default is REQUIRED],
            "additionalProperties": False,
        }


def nearest(word: str, known: Sequence[str]) -> str:
    """Give the mend for a word that is not known: the nearest one that is, or all of them where they are few.

    >>> nearest("discont", ["discount", "freight"]), nearest("x", ["discount", "freight"])
    ('; did you mean "discount"?', '; known are discount, freight')
    """
    close = get_close_matches(word[:60], [name[:60] for name in known[:500]], 1)
    if close:
        return f'; did you mean "{shown(close[0])}"?'
    if not known:
        return "; none are given"
    return f"; known are {', '.join(shown(name) for name in known)}" if len(known) <= 20 else ""


@dataclass(frozen=True, slots=True)
class Rows:
    """A list of values of one shape, read into a tuple."""

    shape: Shape
    least: int = 0
    most: int = 10_000
    #: the key whose values may stand once only
    unique: str = ""

    @property
    def wanted(self) -> str:
        return (
            "a list"
            if self.least == 0
            else f"a list with at least {self.least} entr{'y' if self.least == 1 else 'ies'}"
        )

    def read(self, value: Any, scope: Scope) -> tuple[Any, ...]:
        if not isinstance(value, list) or len(value) < self.least:
            raise required(self)
        if len(value) > self.most:
            raise Unreadable(f"at most {self.most} entries are read, and {len(value)} are given")
        return self._once(tuple(self._entry(place, entry, scope) for place, entry in enumerate(value)))

    def _entry(self, place: int, entry: Any, scope: Scope) -> Any:
        try:
            return self.shape.read(entry, scope)
        except Unreadable as fault:
            raise fault.under(place) from None

    def _once(self, rows: tuple[Any, ...]) -> tuple[Any, ...]:
        seen: set[Any] = set()
        for place, row in enumerate(rows if self.unique else ()):
            key = row if self.unique == "." else row[self.unique]
            if key in seen:
                path = (place,) if self.unique == "." else (place, self.unique)
                raise Unreadable(f'"{shown(str(key))}" is there already; each is given once', path)
            seen.add(key)
        return rows

    def schema(self) -> dict[str, Any]:
        bounds = {"minItems": self.least, "maxItems": self.most}
        return {"type": "array", "items": self.shape.schema(), **bounds} | (
            {"uniqueItems": True} if self.unique else {}
        )


@dataclass(frozen=True, slots=True)
class Table:
    """An object whose keys are names of one's own, with values of one shape."""

    shape: Shape
    most: int = 10_000
    wanted: str = "an object"

    def read(self, value: Any, scope: Scope) -> Mapping[str, Any]:
        if not isinstance(value, dict):
            raise required(self)
        if len(value) > self.most:
            raise Unreadable(f"at most {self.most} entries are read, and {len(value)} are given")
        return MappingProxyType({name: self._entry(name, entry, scope) for name, entry in value.items()})

    def _entry(self, name: str, entry: Any, scope: Scope) -> Any:
        try:
            return self.shape.read(entry, scope)
        except Unreadable as fault:
            raise fault.under(name) from None

    def schema(self) -> dict[str, Any]:
        return {"type": "object", "additionalProperties": self.shape.schema(), "maxProperties": self.most}


@dataclass(frozen=True, slots=True)
class Document:
    """A whole input: its title, and the record it is."""

    title: str
    record: Record

    def read(self, value: Any) -> Mapping[str, Any]:
        """Read a plain JSON value. Raises: Unreadable."""
        return self.record.read(value, NOWHERE)

    def schema(self) -> dict[str, Any]:
        """Give the JSON Schema, draft 2020-12."""
        return {"$schema": DIALECT, "title": self.title, **self.record.schema()}


def parse(raw: bytes) -> Any:
    """Read JSON without losing a digit: decimals become `Decimal`, and an object with a key twice is refused.

    Args:
        raw: UTF-8, at most `MOST_BYTES`.
    Raises: Unreadable.
    Source: RFC 8259, which leaves a key given twice open; refusing it is ours.

    >>> parse(b'{"rate": 0.10}')
    {'rate': Decimal('0.10')}
    """
    if len(raw) > MOST_BYTES:
        raise Unreadable(f"at most {MOST_BYTES // 1024 // 1024} MB are read")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        raise Unreadable(f"text in UTF-8 is required; byte {fault.start} is none") from None
    try:
        return json.loads(text, parse_float=_decimal, parse_int=_whole, object_pairs_hook=_once_each)
    except json.JSONDecodeError as fault:
        raise Unreadable(f"JSON is required; line {fault.lineno}, column {fault.colno}: {fault.msg}") from None
    except RecursionError:
        raise Unreadable("the brackets are nested too deep") from None


def _decimal(text: str) -> Decimal | float:
    try:
        return Decimal(text)
    except InvalidOperation:  # an exponent past every bound: no finite number for our purposes
        return float("inf")


def _whole(text: str) -> int | Decimal:
    return int(text) if len(text) <= 40 else Decimal(text)


def _once_each(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        twice, _ = (Counter(name for name, _ in pairs)).most_common(1)[0]
        raise Unreadable(f'the key "{shown(twice)}" stands twice in one object; keep one')
    return found
