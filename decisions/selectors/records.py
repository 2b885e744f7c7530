"""The printable page of one record: what was known, what was chosen, who agreed, and whether anything was altered since."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from decisions.calc import sealing
from decisions.models import Approval, Record
from decisions.selectors import doings, pages, sheet
from projects.models import Project, TrailEntry


@dataclass(frozen=True, slots=True)
class RecordPage:
    """`intact` tells whether the hash still matches what is stored; `later` is a newer record of the same decision."""

    record: Record
    content: Mapping[str, Any]
    sheet: sheet.Sheet
    doings: doings.Doings
    approval: Approval | None
    intact: bool
    later: Record | None

    @property
    def chosen(self) -> Mapping[str, Any]:
        key = self.content["choice"]["option"]
        return next(option for option in self.content["options"] if option["key"] == key)

    @property
    def cheaper(self) -> tuple[Mapping[str, Any], ...]:
        """Options with a lower expected total than the chosen one: the page says why each was not taken."""
        own = self.chosen["outcome"]["expected_total_minor"]
        return tuple(o for o in self.content["options"] if o["outcome"]["expected_total_minor"] < own)

    @property
    def turned_down(self) -> tuple[tuple[Mapping[str, Any], tuple[str, ...]], ...]:
        """Each cheaper option with the checks that it fails."""
        return tuple((o, tuple(c["name"] for c in o["checks"] if c["verdict"] == "fails")) for o in self.cheaper)


def record_page(project: Project, pk: int) -> RecordPage:
    """Read a record for printing. Raises: Http404. Queries: 9."""
    record = pages.find_record(project, pk)
    content = json.loads(record.frozen)
    later = Record.objects.filter(decision=record.decision, number__gt=record.number).order_by("-number").first()
    return RecordPage(
        record=record,
        content=content,
        sheet=sheet.lay_out(content),
        doings=doings.doings(record),
        approval=getattr(record, "approval", None),
        intact=_intact(record, content),
        later=later,
    )


def _intact(record: Record, content: Mapping[str, Any]) -> bool:
    """Hold what is stored against the hash, and the hash against the one that the trail noted at the time."""
    said = TrailEntry.objects.filter(
        project_id=record.decision.project_id, subject="decision", subject_id=record.decision_id, verb="recorded"
    )
    noted = [entry["sha256"] for entry in said.values_list("details", flat=True) if entry.get("record") == record.pk]
    stated = (record.reason, record.option.key, record.commits_minor)
    frozen = (content["choice"]["reason"], content["choice"]["option"], content["results"]["commits_minor"])
    return sealing.hash_of(record.frozen) == record.sha256 and noted in ([], [record.sha256]) and stated == frozen
