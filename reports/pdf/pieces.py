"""The pieces a paper is made of, as plain values: cells, tables, texts, figures, sections."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from projects import display

Part = dict[str, Any]


@dataclass(slots=True)
class Build:
    """Whose money it is, as the content has it."""

    name: str
    currency: str
    locale: str

    def brief(self, minor: int) -> str:
        return display.money(minor, self, brief=True)

    def day(self, on: date) -> str:
        return display.day(on, self.locale)

    def cell(self, minor: int | None) -> Part:
        return cell("\u2013" if minor is None else display.money(minor, self))

    def signed(self, minor: int | None) -> Part:
        """A cell with a difference: signed, and marked over or saved."""
        if minor is None:
            return cell("\u2013")
        return {"text": display.money(minor, self, sign=True), "sense": display.sense(minor)}

    def against(self, minor: int, yardstick: str) -> Part:
        return {"text": display.difference(minor, self, yardstick), "sense": display.sense(minor)}


def cell(text: str) -> Part:
    return {"text": text, "sense": ""}


def figure(label: str, amount: str, note: str, against: Part | None = None) -> Part:
    return {"label": label, "amount": amount, "note": note, "against": against or cell("")}


def section(title: str, parts: list[Part]) -> Part:
    return {"title": title, "parts": parts}


def text(words: str, *, soft: bool = False) -> Part:
    return {"kind": "text", "words": words, "soft": soft}


def table(caption: str, head: Sequence[str], rows: Sequence[Sequence[Part]], foot: Sequence[Part] = ()) -> Part:
    return {
        "kind": "table",
        "caption": caption,
        "head": list(head),
        "rows": [list(row) for row in rows],
        "foot": list(foot),
    }
