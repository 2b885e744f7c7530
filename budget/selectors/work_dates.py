"""When the work of a line is done, as far as somebody knows.

The budget has no dates of work and imports no plan. Whoever has them, higher up in the house, registers here at start-up;
until then every line is without dates (ADR 0407).
"""

from collections.abc import Callable, Mapping
from datetime import date

from budget.calc.cash import Span
from projects.models import Project

Spans = Mapping[int, tuple[Span, ...]]
#: Tells for a project and its date which days each line's work still takes: {line id: spans}.
Asked = Callable[[Project, date], Spans]

_asked: list[Asked] = []


def register(asked: Asked) -> None:
    """Ask this one from now on. Safe to repeat."""
    _asked[:] = [asked]


def spans(project: Project, *, today: date) -> Spans:
    """The days that the work of each line still takes; lines without any are left out. Queries: those of who is asked."""
    return _asked[0](project, today) if _asked else {}
