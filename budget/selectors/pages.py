"""What the Money page reads besides the totals: the lines of opened trades, and lists to choose from."""

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from django.db.models import Count, F, Q, QuerySet
from django.shortcuts import get_object_or_404

from budget.models import LineItem, LineState, Quote, ScopeItem, Trade
from projects.models import Attachment, ExchangeRate, Project

#: So many lines of a trade are shown at once; the rest is a link away.
LINES_AT_ONCE = 200


@dataclass(frozen=True, slots=True)
class LineRow:
    """One line with its four figures and two yardsticks [project minor units]."""

    line_id: int
    code: str
    description: str
    state: str
    budget: int
    original: int | None
    agreed: int | None
    changes: int
    invoiced: int
    likely: int
    over_budget: int
    against_original: int | None
    open_quotes: int

    @property
    def state_label(self) -> str:
        return str(LineState(self.state).label)


@dataclass(frozen=True, slots=True)
class Opened:
    """The lines of one trade, as far as they are shown."""

    rows: tuple[LineRow, ...]
    next_start: int | None


def lines_of(project: Project, trade_id: int, *, start: int = 0) -> Opened:
    """Read the lines of one trade, without contingency and removed lines.

    Args:
        start: how many lines to pass over.
    Returns: its lines in the order of the budget, at most `LINES_AT_ONCE`. Queries: 1.
    """
    return _opened(_rows(project).filter(trade_id=trade_id), start)


def _rows(project: Project) -> QuerySet:
    return (
        LineItem.objects.filter(project=project, removed_on=None)
        .exclude(kind=LineItem.Kind.CONTINGENCY)
        .annotate(
            over_budget=F("likely_minor") - F("budget_minor"),
            against_original=F("likely_minor") - F("original_minor"),
            open_quotes=Count("quote_lines", filter=Q(quote_lines__quote__state=Quote.State.OPEN)),
        )
        .order_by("position", "code")
        .values_list(
            "pk", "code", "description", "state", "budget_minor", "original_minor", "agreed_minor", "changes_minor", "invoiced_minor",
            "likely_minor", "over_budget", "against_original", "open_quotes",
        )
    )  # fmt: skip


def _opened(rows: QuerySet, start: int) -> Opened:
    found = list(rows[start : start + LINES_AT_ONCE + 1])
    more = start + LINES_AT_ONCE if len(found) > LINES_AT_ONCE else None
    return Opened(tuple(LineRow(*row) for row in found[:LINES_AT_ONCE]), more)


def contingency_lines(project: Project) -> list[LineItem]:
    """The lines that set money aside. Queries: 1."""
    return list(LineItem.objects.filter(project=project, removed_on=None, kind=LineItem.Kind.CONTINGENCY))


def trade_in(project: Project, trade_id: int) -> Trade:
    """One trade of this project, or 404. Queries: 1."""
    return get_object_or_404(Trade, project=project, pk=trade_id)


def trades(project: Project) -> list[Trade]:
    """Every trade, in the order of the budget. Queries: 1."""
    return list(Trade.objects.filter(project=project))


def trade_called(project: Project, code: str) -> int | None:
    """The id of the trade with this code, or None. Queries: 1, none for no code."""
    found = Trade.objects.filter(project=project, code=code).values_list("pk", flat=True)
    return found.first() if code else None


def next_line_code(project: Project, trade: Trade | None) -> str:
    """Suggest a code for a further line: one above the highest number in use in the trade. Queries: 1."""
    if trade is None:
        return ""
    codes = LineItem.objects.filter(project=project, trade=trade, removed_on=None).values_list("code", flat=True)
    numbered = [(int(code[len(_stem(code)) :]), code) for code in codes if code != _stem(code)]
    if not numbered:
        return f"{trade.code}-1"
    number, code = max(numbered)
    stem = _stem(code)
    return f"{stem}{str(number + 1).zfill(len(code) - len(stem))}"


def _stem(code: str) -> str:
    return code.rstrip("0123456789")


def choosable_lines(project: Project) -> list[tuple[int, str, str]]:
    """Every line that a quote can price, as (id, code, description), in the order of the budget. Queries: 1."""
    rows = LineItem.objects.filter(project=project, removed_on=None).exclude(kind=LineItem.Kind.CONTINGENCY)
    return list(rows.values_list("pk", "code", "description"))


def rates(project: Project) -> dict[str, str]:
    """The budget rate of each other currency, as text. Queries: 1."""
    rows = (
        ExchangeRate.objects.filter(purpose="budget", project=project)
        .order_by("rated_on", "pk")
        .values_list("currency", "rate")
    )
    return {currency: format(rate, "f") for currency, rate in rows}


def scope_of(project: Project, line_ids: Collection[int]) -> Mapping[int, list[str]]:
    """The names on the scope lists of some lines. Queries: 1."""
    found: dict[int, list[str]] = defaultdict(list)
    rows = ScopeItem.objects.filter(line__project=project, line_id__in=line_ids, removed_at=None)
    for line_id, name in rows.values_list("line_id", "name"):
        found[line_id].append(name)
    return found


def known_ids(lines: Collection[tuple[int, str, str]]) -> list[int]:
    """The ids alone of choosable lines."""
    return [pk for pk, _code, _text in lines]


def attachments(project: Project, ids: Collection[int]) -> list[Attachment]:
    """Attachments of this project with these ids. Queries: 1, none for no id."""
    return list(Attachment.objects.filter(project=project, pk__in=ids)) if ids else []
