"""Reads the hand-worked tables of docs/worked, so that what a page of documentation claims is what the tests check."""

import re
from pathlib import Path

FOLDER = Path(__file__).resolve().parents[1] / "docs" / "worked"


def table(file: str, title: str) -> list[dict[str, str]]:
    """The rows of the first table under a heading, as {column: text}."""
    under = (FOLDER / file).read_text("utf-8").split(f"## {title}\n", 1)[1].split("\n## ", 1)[0]
    lines = [_cells(line) for line in under.splitlines() if line.startswith("|")]
    head, _rule, *rows = lines
    if not rows or any(len(row) != len(head) for row in rows):
        raise ValueError(f"no whole table under {title!r} in {file}")
    return [dict(zip(head, row, strict=True)) for row in rows]


def _cells(line: str) -> list[str]:
    return [cell.strip() for cell in line.strip().strip("|").split("|")]


def numbers(cell: str) -> list[int]:
    """The whole numbers of a cell, thousands commas taken out."""
    return [int(found.replace(",", "")) for found in re.findall(r"-?\d[\d,]*", cell)]


def minor(cell: str) -> int:
    """An amount with two decimals as minor units."""
    sign, whole, cents = re.fullmatch(r"(-?)([\d,]+)\.(\d\d)", cell).groups()
    return int(sign + whole.replace(",", "") + cents)
