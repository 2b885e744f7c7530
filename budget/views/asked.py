"""What an address asks for, read without trust."""

from collections.abc import Iterable


def whole_number(text: str | None) -> int:
    """A number of at most nine digits, or 0."""
    return int(text) if text and len(text) < 10 and text.isascii() and text.isdigit() else 0


def ids(texts: Iterable[str]) -> list[int]:
    """The numbers among some texts, in order, each once."""
    return [number for number in dict.fromkeys(map(whole_number, texts)) if number]
