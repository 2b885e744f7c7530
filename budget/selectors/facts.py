"""The facts from which a line's likely final follows, read for many lines at once."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet, Sum

from budget.calc.forecast import ChangeFact, LineFacts, QuoteFact
from budget.models import (
    AgreementGap,
    AgreementLine,
    Change,
    Estimate,
    KnockOn,
    LineItem,
    OwnForecast,
    Quote,
    QuoteLine,
    Transfer,
)
from budget.selectors import billing
from projects.models import Project

#: A change counts in a likely final while it is proposed or agreed.
IN_FORCE = (Change.State.PROPOSED, Change.State.AGREED)


def line_facts(project: Project, line_ids: Collection[int] | None = None) -> list[LineFacts]:
    """Read what `forecast.likely_final` needs to know of each line.

    Args:
        line_ids: the lines to read, or None for every line of the project.
    Returns: one fact per line, in the order of the budget; removed lines are left out.
    Queries: 13, whatever the number of lines; 4 more where something is let in another currency.
    """
    lines = list(_of(LineItem.objects.filter(project=project, removed_on=None), line_ids, "pk"))
    quotes = _open_quotes(project, line_ids)
    estimates = _newest(_estimates_in_force(project, line_ids))
    own = _newest(_own_forecasts(project, line_ids))
    agreed, to_let = _agreed(project, line_ids)
    gaps = _sums(open_gaps(project), line_ids, "agreement_line__line_id")
    effects = _sums(_knock_ons(project), line_ids, "line_id")
    changes = _changes(project, line_ids)
    billed = billing.billed(project, line_ids)
    moved_here = moved(project, line_ids)
    return [
        LineFacts(
            id=str(line.pk),
            trade=str(line.trade_id),
            budget_minor=line.budget_minor,
            kind=line.kind,
            closed=line.closed_on is not None,
            own_forecast_minor=own.get(line.pk),
            quotes=tuple(quotes.get(line.pk, ())),
            original_minor=line.original_minor,
            estimate_minor=estimates.get(line.pk),
            agreed_minor=agreed.get(line.pk),
            changes=tuple(changes.get(line.pk, ())),
            gaps_minor=gaps.get(line.pk, 0),
            still_to_let_minor=to_let.get(line.pk, 0),
            invoiced_minor=billed.invoiced.get(line.pk, 0),
            effects_minor=effects.get(line.pk, 0),
            moved_minor=moved_here.get(line.pk, 0),
            currency_minor=billed.currency.get(line.pk, 0),
        )
        for line in lines
    ]


def open_gaps(project: Project) -> QuerySet:
    """Gaps of standing agreements that no change has taken up. A query to be narrowed by the caller."""
    return AgreementGap.objects.filter(_standing(project, "agreement_line__")).exclude(
        Exists(Change.objects.filter(gap=OuterRef("pk"), state__in=IN_FORCE))
    )


def _knock_ons(project: Project) -> QuerySet:
    """Effects of decisions that no change has put into an agreement; one that was taken back goes with its reversal."""
    taken_up = Change.objects.filter(state__in=IN_FORCE)
    return KnockOn.objects.filter(line__project=project).exclude(
        Exists(taken_up.filter(knock_on=OuterRef("pk"))) | Exists(taken_up.filter(knock_on=OuterRef("reverses")))
    )


def _changes(project: Project, line_ids: Collection[int] | None) -> dict[int, list[ChangeFact]]:
    rows = _of(Change.objects.filter(project=project, state__in=IN_FORCE), line_ids, "line_id").order_by("pk")
    found: dict[int, list[ChangeFact]] = defaultdict(list)
    for line, amount, state, chance in rows.values_list("line_id", "amount_minor", "state", "chance"):
        found[line].append(ChangeFact(amount, state, chance))
    return found


def moved(project: Project, line_ids: Collection[int] | None = None) -> dict[int, int]:
    """Read the budget moved to lines, less what was moved away [project minor units]. Queries: 2."""
    balance: dict[int, int] = defaultdict(int)
    for column, sign in (("to_line_id", 1), ("from_line_id", -1)):
        for line, amount in _sums(Transfer.objects.filter(project=project), line_ids, column).items():
            balance[line] += sign * amount
    return balance


def _of(rows: QuerySet, line_ids: Collection[int] | None, column: str) -> QuerySet:
    return rows if line_ids is None else rows.filter(**{f"{column}__in": line_ids})


def _standing(project: Project, path: str) -> Any:
    return Q(**{f"{path}agreement__project": project, f"{path}agreement__reversal": None})


def _open_quotes(project: Project, line_ids: Collection[int] | None) -> dict[int, list[QuoteFact]]:
    rows = QuoteLine.objects.filter(quote__state=Quote.State.OPEN).order_by("pk")
    # Told the project too, SQLite would try every open quote of it against every line asked for.
    rows = rows.filter(quote__project=project) if line_ids is None else rows.filter(line__in=line_ids)
    found: dict[int, list[QuoteFact]] = defaultdict(list)
    for pk, line, levelled, complete, preferred, on, until in rows.values_list(
        "quote_id", "line_id", "levelled_minor", "complete", "preferred", "quote__quoted_on", "quote__valid_until"
    ):
        found[line].append(
            QuoteFact(
                id=str(pk),
                levelled_minor=levelled,
                quoted_on=on,
                complete=complete,
                valid_until=until,
                preferred=preferred,
            )
        )
    return found


def _estimates_in_force(project: Project, line_ids: Collection[int] | None) -> Iterable[tuple[int, int]]:
    rows = Estimate.objects.filter(line__project=project, reverses=None, reversal=None)
    return _of(rows, line_ids, "line_id").order_by("estimated_on", "pk").values_list("line_id", "amount_minor")


def _own_forecasts(project: Project, line_ids: Collection[int] | None) -> Iterable[tuple[int, int | None]]:
    rows = OwnForecast.objects.filter(line__project=project)
    return _of(rows, line_ids, "line_id").order_by("pk").values_list("line_id", "amount_minor")


def _newest(rows: Iterable[tuple[int, Any]]) -> dict[int, Any]:
    return dict(rows)  # a later row of the same line takes the place of an earlier one


def _agreed(project: Project, line_ids: Collection[int] | None) -> tuple[dict[int, int], dict[int, int]]:
    rows = _of(AgreementLine.objects.filter(_standing(project, "")), line_ids, "line_id").order_by("pk")
    agreed: dict[int, int] = defaultdict(int)
    to_let: dict[int, int] = {}
    for line, amount, rest in rows.values_list("line_id", "amount_minor", "still_to_let_minor"):
        agreed[line] += amount
        to_let[line] = rest  # the newest agreement knows best what is left to let
    return agreed, to_let


def _sums(rows: QuerySet, line_ids: Collection[int] | None, column: str) -> dict[int, int]:
    summed = _of(rows, line_ids, column).values_list(column).annotate(total=Sum("amount_minor")).order_by()
    return dict(summed)
