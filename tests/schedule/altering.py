"""A small plan to alter, and plain pictures of it to hold against each other."""

from datetime import date

from projects.models import Project
from schedule.calc.network import Network
from schedule.models import Activity
from schedule.selectors import standing
from schedule.services import activities
from tests import builders

TODAY = builders.TODAY


def planned(project: Project) -> None:
    """A pour with what leads to it and what follows, on two calendars: one critical row and one with float."""
    builders.calendar(project, "Trades", closures=((date(2027, 2, 15), date(2027, 2, 17), "works' holiday"),))
    builders.calendar(project, "Visits", "24")
    builders.activity(project, "A1", 3, trade="Groundwork", area="Hall")
    builders.activity(
        project, "A2", 1, ["A1"], calendar="Visits", kind="inspection", attended_by="Inspector", notice_days=2
    )
    builders.activity(project, "A3", 5, ["A2"], kind="pour", covers=True, trade="Concrete", area="Hall")
    builders.activity(project, "A4", 7, ["A3"], kind="cure", elapsed=True)
    builders.activity(project, "A5", 4, ["A1"], trade="Concrete", area="Yard")
    late = activities.LinkDraft("A4", "FF", 2)
    builders.activity(
        project, "A6", 6, ["A5", late], trade="Steel", not_before_on=date(2027, 2, 10), not_before_why="road"
    )
    builders.activity(project, "A7", 0, ["A6", "A4"], kind="milestone", not_before_on=date(2027, 2, 20))


def read(project: Project) -> Network:
    found = standing.standing(project, today=TODAY)
    assert found is not None
    return found.network


def picture(network: Network) -> dict[str, object]:
    """A network without the order of its links, which comes to nothing."""
    rows = {
        one.id: (one.duration, one.calendar, one.not_before, one.elapsed, one.slip, frozenset(one.after))
        for one in network.activities
    }
    calendars = {
        name: (one.weekdays, frozenset(one.worked), tuple(sorted(one.closed)))
        for name, one in network.calendars.items()
    }
    return {"activities": rows, "calendars": calendars}


def dates(project: Project) -> dict[str, tuple[object, ...]]:
    """Every kept figure of every activity in the plan."""
    kept = (
        "early_start_on",
        "early_finish_on",
        "late_start_on",
        "late_finish_on",
        "float_days",
        "free_days",
        "critical",
    )
    rows = Activity.objects.filter(project=project, removed_on=None)
    return {row[0]: row[1:] for row in rows.values_list("code", "days", "not_before_on", "not_before_why", *kept)}
