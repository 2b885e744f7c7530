"""The messy sheet of the demo, and a project's facts to read such sheets against."""

import csv
import io
import json
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

from budget.calc.sheets import book
from budget.calc.sheets.asking import Question
from budget.calc.sheets.book import Book
from budget.calc.sheets.grid import Facts, Grid
from budget.calc.sheets.preview import Choices, Known

DEMO = Path(__file__).resolve().parents[4] / "reports" / "demo" / "skerrywick.json"
MESSY: dict[str, Any] = json.loads(DEMO.read_text("utf-8"))["messy_sheet_example"]
EXPECTED = MESSY["expected"]
TEXT: str = MESSY["text"]
ROWS: list[list[Any]] = list(csv.reader(io.StringIO(TEXT)))
KNOWN = Known(
    currency="GBP", mark=".", today=date(2027, 2, 1), earliest=date(1990, 1, 1), latest=date(2150, 12, 31),
    rates=frozenset({"GBP", "EUR", "USD"}), rate_of={"EUR": Decimal("0.86"), "USD": Decimal("0.79")},
    tax_percent=Decimal(20),
)  # fmt: skip
HEAD = ["Trade", "Item", "Budget", "Quote 1", "Quote 2"]
PLAIN = Facts()


def read(
    *rows: list[Any], head: list[Any] | None = None, facts: Facts = PLAIN, known: Known = KNOWN, **choices: Any
) -> Book:
    return book.read(Grid([HEAD if head is None else head, *rows], facts), known, Choices(**choices))


def messy(**choices: Any) -> Book:
    return book.read(Grid(ROWS), KNOWN, Choices(**choices))


def asked(seen: Book) -> dict[str, Question]:
    return {question.key: question for question in seen.questions}


def kinds(seen: Book) -> list[str]:
    return [row.why or row.kind for row in seen.rows]


def defaults(seen: Book, **more: str) -> dict[str, str]:
    """Every question answered as it suggests; vendors and what has no suggestion by `more`, or by a name."""
    found = {question.key: question.default or "=Aridlow" for question in seen.questions}
    return found | more
