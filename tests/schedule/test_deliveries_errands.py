"""Random errands with deliveries: whatever is reported, taken back, promised or taken off, the kept dates stay true."""

from dataclasses import replace
from datetime import timedelta
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from projects.faults import Refused
from projects.models import Project
from schedule.models import Delivery, DeliveryStage
from schedule.selectors import ahead, deliveries
from schedule.services import deliveries as services
from schedule.services import plan
from schedule.services.deliveries import StageDraft
from tests import builders
from tests.builders import NOW, TODAY

KINDS = st.sampled_from(DeliveryStage.Kind.values)
ERRANDS = st.one_of(
    st.tuples(st.just("report"), KINDS, st.integers(-30, 3), st.booleans()),
    st.tuples(st.just("take back"), KINDS),
    st.tuples(st.just("promise"), st.integers(-20, 60)),
    st.tuples(st.just("put in")),
    st.tuples(st.just("remove")),
    st.tuples(st.just("put back")),
)


def build() -> Delivery:
    project = builders.project(builders.person("lead"), opens_on=TODAY + timedelta(days=60))
    builders.calendar(project)
    builders.calendar(project, "Maker", "2467", closures=[(TODAY, TODAY + timedelta(days=12), "works holiday")])
    builders.activity(project, "A01", 8, kind="delivery", calendar="Maker")
    builders.activity(project, "A02", 3, ["A01"], trade="Plumbing")
    return builders.delivery(project, promised_on=TODAY + timedelta(days=40))


def run(row: Delivery, errand: tuple[Any, ...]) -> None:
    told: dict[str, Any] = {"by": builders.lead_of(row.project), "now": NOW, "today": TODAY}
    if errand[0] == "report":
        _word, kind, days, finish = errand
        services.report(row, StageDraft(kind, done_on=TODAY + timedelta(days=days)), finish=finish, **told)
    elif errand[0] == "take back":
        services.take_back(row, errand[1], **told)
    elif errand[0] == "promise":
        draft = replace(services.draft_of(row), promised_on=TODAY + timedelta(days=errand[1]))
        services.change(row, draft, **told)
    elif errand[0] == "put in":
        services.put_promise_into_plan(row, reason="as promised", **told)
    elif errand[0] == "remove":
        services.remove(row, **told)
    else:
        services.put_back(row, **told)


def check(project: Project) -> None:
    assert plan.drifted(project) == {}
    for row in deliveries.board(project, TODAY).rows:
        assert (row.order is None) == bool(row.row.ordered_on or row.activity.started_on or row.arrived_on)
        assert (
            row.days_in_hand is None or row.arrived_on or row.days_in_hand >= 1
        )  # the plan never starts before it is there
    ahead.weeks(project, TODAY)


class Errands(TestCase):
    @settings(max_examples=8)
    @given(st.lists(ERRANDS, min_size=1, max_size=6))
    def test_dates_stay_true(self, errands: list[tuple[Any, ...]]):
        row = build()
        for errand in errands:
            before = list(row.project.activities.order_by("pk").values())
            try:
                run(Delivery.objects.get(pk=row.pk), errand)
            except Refused:
                assert list(row.project.activities.order_by("pk").values()) == before
            check(row.project)
