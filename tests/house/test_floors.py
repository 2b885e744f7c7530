"""The floors hold, and the check that says so finds what is planted. Source of the rules: docs/adr/0001."""

from pathlib import Path

import pytest

from tests.house import floors

ROOT = Path(__file__).resolve().parents[2]


def sources() -> list[str]:
    found = [path for app in floors.APPS for path in (ROOT / app).rglob("*.py") if "migrations" not in path.parts]
    return sorted(path.relative_to(ROOT).as_posix() for path in found)


def test_every_file_keeps_to_its_floor():
    found = [fault for path in sources() for fault in floors.faults(path, (ROOT / path).read_text("utf-8"))]
    assert sources() and not found, "\n".join(found)


PLANTED = [
    ("budget/services/x.py", "from decisions.models import Decision", "not below"),
    ("projects/views.py", "import budget.services", "not below"),
    ("budget/models.py", "from budget.services import ledger", "above"),
    ("budget/selectors/x.py", "from budget import views", "above"),
    ("budget/calc/x.py", "from django.db import models", "not the standard library"),
    ("budget/calc/x.py", "from budget.models import LineItem", "calculation imports budget.models"),
    ("budget/calc/x.py", "from decisions.calc import compare", "calculation imports decisions.calc"),
    ("budget/calc/x.py", "def f():\n    import random", "imports random"),
    ("budget/calc/x.py", "from datetime import date\ndate.today()", "reads the clock"),
    ("budget/calc/x.py", "open('x')", "calls open"),
    ("units/money.py", "import numpy", "not the standard library"),
    ("units/money.py", "from budget.calc import forecast", "calculation imports budget.calc"),
    ("units/money.py", "import datetime\ndatetime.datetime.now()", "reads the clock"),
    ("budget/services/x.py", "from django.utils import timezone\ntimezone.now()", "reads the clock"),
    ("budget/services/x.py", "def accept(*, request): ...", "no request"),
    ("budget/selectors/x.py", "def lines(request): ...", "no request"),
    ("budget/views.py", "line.save()", "writes"),
    ("budget/views/quotes.py", "LineItem.objects.filter(pk=1).delete()", "writes"),
    ("budget/views.py", "LineItem.objects.all()", "through selectors"),
    ("budget/views.py", "left = budget - spent", "no arithmetic"),
    ("budget/models.py", "amount = models.DecimalField()", "ExactField"),
    ("budget/services/x.py", "from .. import models", "absolute"),
    ("budget/services/x.py", "from config import settings", "does not import config"),
]


@pytest.mark.parametrize(("path", "source", "said"), PLANTED)
def test_a_planted_break_is_found(path: str, source: str, said: str):
    found = floors.faults(path, source)
    assert any(said in fault for fault in found), found


ALLOWED = [
    ("decisions/services/x.py", "from budget.services import ledger\nfrom decisions.models import Decision"),
    ("decisions/calc/x.py", "import math\nfrom budget.calc import forecast\nfrom units import money"),
    ("budget/views.py", "from budget.services import quotes\nquotes.accept(by=1)\ntitle = 'a' + 'b'"),
    ("budget/services/x.py", "line.save()"),
    ("reports/management/commands/demo.py", "from django.utils import timezone\ntimezone.now()"),
]


@pytest.mark.parametrize(("path", "source"), ALLOWED)
def test_what_is_allowed_passes(path: str, source: str):
    assert floors.faults(path, source) == []
