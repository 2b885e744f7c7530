"""Plans as sheets: what cells say, what a sheet makes of the plan, and that it can be taken back whole.

The notation of links and the headings are our own rule; dates as in ISO 8601.
"""

from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from projects.faults import Refused
from projects.models import Project, TrailEntry
from schedule import wording_sheets
from schedule.calc import sheet
from schedule.calc.sheet import ACTIVITIES, CALENDARS, CLOSURES, LINKS
from schedule.models import Activity, Plan, WorkCalendar
from schedule.selectors import sheets as written
from schedule.services import activities, drafting, imports, plan, undoing
from schedule.services.activities import LinkDraft
from tests import builders
from tests.builders import NOW, TODAY
from tests.schedule.test_undoing_service import standing

TOLD: dict[str, Any] = {"by": None, "now": NOW, "today": TODAY}


class TestCells:
    @pytest.mark.parametrize(
        ("cell", "found"),
        [
            ("", ()),
            ("A12", (("A12", "FS", 0, False),)),
            ("A12; A13 ( ss , 3 DAYS );", (("A12", "FS", 0, False), ("A13", "SS", 3, False))),
            ("A1 (-2 working days)", (("A1", "FS", -2, False),)),
            ("A1 (1 calendar day)", (("A1", "FS", 1, True),)),
            (12.0, (("12", "FS", 0, False),)),
        ],
    )
    def test_what_is_waited_for_is_read(self, cell: sheet.Cell, found: tuple[sheet.Waits, ...]):
        assert sheet.waits(cell) == found

    @pytest.mark.parametrize("cell", ["A12, A13", "A12 (soon)", "A12 (SS", "(SS)", "A12 (3)", "A12 (3 weeks)"])
    def test_what_cannot_be_read_is_said(self, cell: str):
        with pytest.raises(sheet.Unreadable):
            sheet.waits(cell)

    @given(
        st.lists(
            st.tuples(
                st.from_regex(r"[A-Z]{1,3}[0-9]{1,3}", fullmatch=True), st.sampled_from(sheet.LINK_KINDS),
                st.integers(-999, 999), st.booleans(),
            ).map(lambda one: (*one[:3], one[3] and one[2] != 0))
        )
    )  # fmt: skip
    def test_links_are_read_as_they_are_written(self, found: list[sheet.Waits]):
        assert sheet.waits(sheet.written(found)) == tuple(found)

    @given(st.sets(st.integers(1, 7), min_size=1))
    def test_weekdays_are_read_as_they_are_written(self, found: set[int]):
        assert sheet.weekdays(sheet.written_weekdays(found)) == found

    @pytest.mark.parametrize("cell", ["28/05/2027", "2027-13-01", "soon", 46170.0])
    def test_a_date_has_one_reading_only(self, cell: sheet.Cell):
        with pytest.raises(sheet.Unreadable):
            sheet.day(cell)

    def test_a_heading_row_is_found_below_a_title(self):
        rows = [["Our plan"], [], ["Days", "code", "Activity"], [3.0, "A01", "Dig"], ["", "", ""]]
        lines, faults = sheet.read(ACTIVITIES, rows)
        assert faults == [] and [(line.row, dict(line.values)) for line in lines] == [
            (4, {"code": "A01", "name": "Dig", "days": 3})
        ]

    def test_a_sheet_is_known_by_its_name_or_its_headings(self):
        assert sheet.sheet_of("links", [["x"]]) == LINKS
        assert sheet.sheet_of("", [["Activity", "Waits for"]]) == LINKS
        assert sheet.sheet_of("", [["Code", "Days"]]) == ACTIVITIES
        assert sheet.sheet_of("Costs", [["Amount"]]) == ""


@pytest.fixture
def chain(project: Project) -> Project:
    builders.calendar(project)
    builders.activity(project, "A01", 3, name="Dig", note="two\r\nlines")
    builders.activity(project, "A02", 1, [LinkDraft("A01", "SS", 2, True)], name="Pour", kind="pour", covers=True)
    return project


HEAD = ["Code", "Activity", "Days", "Waits for"]
LINKED = [["Activity", "Waits for"], ["A02", "A01"]]
WEEK, SHUT = ["Calendar", "Weekdays"], ["Calendar", "First day"]


def bring(project: Project, **sheets: list[list[sheet.Cell]]) -> imports.Reading:
    return imports.bring_in(project, named(sheets), file_name="plan.xlsx", **TOLD)


def named(sheets: dict[str, Any]) -> dict[str, Any]:
    return {name.capitalize(): rows for name, rows in sheets.items()}


def newest(project: Project) -> TrailEntry:
    return TrailEntry.objects.filter(project=project).order_by("-pk")[0]


def out(project: Project) -> dict[str, list[list[Any]]]:
    """The plan as its workbook has it, with dates as they come back."""
    read = {
        ACTIVITIES: written.activities(project, with_links=False), LINKS: written.links(project),
        CALENDARS: written.calendars(project), CLOSURES: written.closures(project),
    }  # fmt: skip
    return {
        name: [[column.heading for column in columns], *[[_back(cell) for cell in row] for row in rows]]
        for name, (columns, rows) in read.items()
    }


def _back(cell: Any) -> Any:
    return "" if cell is None else cell.isoformat() if isinstance(cell, date) else cell


class TestReading:
    def test_what_went_out_comes_in_as_it_stands(self, chain: Project):
        builders.calendar(chain, "Crane", "6", region="GB-SCT", closures=[(TODAY, TODAY, "wind")], extra_days=(TODAY,))
        builders.activity(
            chain, "A03", 2, ["A02"], calendar="Crane", not_before_on=TODAY, not_before_why="tide", weather=True
        )
        found = imports.reading(chain, out(chain))
        assert found.faults == [] and found.is_empty and found.alike == 3

    def test_new_and_changed_are_told_apart(self, chain: Project):
        rows = [
            HEAD,
            ["A01", "Dig", 8.0, ""],
            ["A02", "Pour", 1.0, "A01 (SS, 2 calendar days)"],
            ["A03", "Walls", 4.0, "A02"],
        ]
        found = imports.reading(chain, {ACTIVITIES: rows})
        assert [draft.code for draft in found.new] == ["A03"] and found.alike == 1
        assert [wording_sheets.differences(*pair) for pair in found.changed] == ["Days: 3 → 8"]

    def test_a_column_that_is_not_there_leaves_what_stands(self, chain: Project):
        found = imports.reading(chain, {ACTIVITIES: [["Code", "Trade"], ["A02", "Concrete"]]})
        (pair,) = found.changed
        assert pair[1].after == (LinkDraft("A01", "SS", 2, True),) and pair[1].covers and pair[1].trade == "Concrete"

    def test_a_sheet_of_links_replaces_those_of_the_activities_it_names(self, chain: Project):
        sheets = {
            LINKS: [["Activity", "Waits for", "How", "Days between", "Calendar days"], ["A02", "A01", "ff", 3.0, "no"]]
        }
        found = imports.reading(chain, sheets)
        assert [after.after for _before, after in found.changed] == [(LinkDraft("A01", "FF", 3, False),)]

    @pytest.mark.parametrize(
        ("told", "sheets"),
        [
            ("Activities, row 2, Days: “three” is no whole number.", {ACTIVITIES: [HEAD, ["A03", "W", "three", ""]]}),
            ("Activities, row 2, Code: Nothing stands here", {ACTIVITIES: [HEAD, ["", "W", 3.0, ""]]}),
            ("Activities, row 3, Code: “A03” stands twice", {ACTIVITIES: [HEAD, ["A03", "W", 3.0, ""], ["A03", "W", 3.0, ""]]}),
            ("Activities, row 2, Days: A03 is not in the plan yet", {ACTIVITIES: [HEAD, ["A03", "W", "", ""]]}),
            ("Activities, row 2, Waits for: “A09” is neither", {ACTIVITIES: [HEAD, ["A03", "W", 3.0, "A09"]]}),
            ("Activities, row 2, Waits for: “A01, A02” cannot be read", {ACTIVITIES: [HEAD, ["A03", "W", 3.0, "A01, A02"]]}),
            ("Activities, row 2, Kind: “party” is no kind", {ACTIVITIES: [["Code", "Days", "Kind"], ["A03", 1.0, "party"]]}),
            ("Activities, row 2, Calendar: There is no calendar “X”", {ACTIVITIES: [["Code", "Days", "Calendar"], ["A03", 1.0, "X"]]}),
            ("Activities, row 2, Covers: “maybe” is neither yes nor no", {ACTIVITIES: [["Code", "Covers"], ["A01", "maybe"]]}),
            ("Activities, row 2, Not before: “1/2/2027” is no date", {ACTIVITIES: [["Code", "Not before"], ["A01", "1/2/2027"]]}),
            ("Activities: No row of headings", {ACTIVITIES: [["x"]]}),
            ("Links, row 2, Waits for: “A09” is neither", {LINKS: [["Activity", "Waits for"], ["A01", "A09"]]}),
            ("Links, row 2, How: “GG” is no link", {LINKS: [["Activity", "Waits for", "How"], ["A02", "A01", "GG"]]}),
            ("Activities, Waits for: The links stand in a sheet", {ACTIVITIES: [HEAD, ["A02", "P", 1.0, "A01"]], LINKS: LINKED}),
            ("Calendars, row 2, Weekdays: “often” names no weekdays", {CALENDARS: [["Calendar", "Weekdays"], ["Crane", "often"]]}),
            ("Calendars, row 2, Public holidays of: No public", {CALENDARS: [[*WEEK, "Public holidays of"], ["Crane", "Sat", "Atlantis"]]}),
            ("Closures, row 2, Calendar: There is no calendar", {CLOSURES: [["Calendar", "First day"], ["Crane", "2027-02-01"]]}),
            ("Closures, row 2, Last day: The last day", {CLOSURES: [[*SHUT, "Last day"], ["Trades", "2027-02-01", "2027-01-01"]]}),
            ("No sheet holds a plan", {}),
        ],
    )  # fmt: skip
    def test_a_fault_is_told_with_its_place_and_mend(self, chain: Project, told: str, sheets: dict[str, Any]):
        seen = imports.look(chain, sheets, today=TODAY)
        words = [
            ": ".join(filter(None, (wording_sheets.place(one), wording_sheets.fault(one))))
            for one in seen.reading.faults
        ]
        assert any(word.startswith(told) for word in words), words
        before = standing(chain)
        with pytest.raises(Refused):
            imports.bring_in(chain, sheets, file_name="x", **TOLD)
        assert standing(chain) == before and not seen.is_ready


class TestBringingIn:
    def test_to_look_writes_nothing_and_tells_what_moves(self, chain: Project):
        before, trail = standing(chain), TrailEntry.objects.count()
        seen = imports.look(chain, {ACTIVITIES: [HEAD, ["A03", "Walls", 4.0, "A02"]]}, today=TODAY)
        assert seen.is_ready and seen.effect is not None and seen.effect.finish_after == date(2027, 2, 5)
        assert standing(chain) == before and TrailEntry.objects.count() == trail

    def test_it_is_written_with_one_trail_row(self, chain: Project):
        bring(chain, activities=[HEAD, ["A03", "Walls", 4.0, "A02"], ["A01", "Dig", 5.0, ""]])
        assert Activity.objects.get(code="A03").early_finish_on == Plan.objects.get(project=chain).finish_on
        assert Activity.objects.get(code="A01").days == 5 and plan.drifted(chain) == {}
        row = newest(chain)
        assert row.summary == "Brought in plan.xlsx: 1 new activities, 1 changed"
        assert (row.details["changed"][0]["before"]["days"], row.details["added"][0]["code"]) == (3, "A03")

    def test_a_circle_is_refused_and_nothing_is_written(self, chain: Project):
        sheets = {ACTIVITIES: [HEAD, ["A03", "Walls", 4.0, "A02"], ["A01", "Dig", 5.0, "A03"]]}
        assert "in a circle" in imports.look(chain, sheets, today=TODAY).refused
        before = standing(chain)
        with pytest.raises(Refused, match="in a circle"):
            imports.bring_in(chain, sheets, file_name="x", **TOLD)
        assert standing(chain) == before

    def test_a_second_time_there_is_nothing_to_do(self, chain: Project):
        rows = [HEAD, ["A03", "Walls", 4.0, "A02"]]
        bring(chain, activities=rows)
        with pytest.raises(Refused, match="says already"):
            bring(chain, activities=rows)

    def test_a_whole_plan_comes_into_an_empty_project_and_goes_again(self, chain: Project, outsider: Any):
        builders.calendar(chain, "Crane", "6", closures=[(TODAY, TODAY, "wind")])
        builders.activity(chain, "A03", 2, ["A02"], calendar="Crane")
        other = Project.objects.exclude(pk=chain.pk).get()
        empty = standing(other)
        imports.bring_in(other, out(chain), file_name="plan.xlsx", **TOLD)
        assert standing(other) == standing(chain) and plan.drifted(other) == {}
        undoing.take_back(newest(other), **TOLD)
        assert standing(other) == empty and not WorkCalendar.objects.filter(project=other).exists()
        imports.bring_in(other, out(chain), file_name="plan.xlsx", **TOLD)
        assert standing(other) == standing(chain)

    def test_it_is_taken_back_whole(self, chain: Project):
        before = standing(chain)
        rows = [HEAD, ["A03", "Walls", 4.0, "A02"], ["A02", "Slab", 2.0, "A01 (SS)"], ["A01", "Dig on", 5.0, ""]]
        bring(chain, activities=rows, calendars=[["Calendar", "Weekdays"], ["Trades", "Mon to Sat"], ["Crane", "Sat"]])
        assert standing(chain) != before
        undoing.take_back(newest(chain), **TOLD)
        assert standing(chain) == before and plan.drifted(chain) == {}

    def test_what_was_changed_since_keeps_the_whole_from_being_taken_back(self, chain: Project):
        bring(chain, activities=[HEAD, ["A03", "Walls", 4.0, "A02"], ["A01", "Dig", 5.0, ""]])
        done, row = newest(chain), Activity.objects.get(code="A03")
        activities.change(row, drafting.from_told(activities.told(row) | {"days": 6}), **TOLD)
        before = standing(chain)
        with pytest.raises(Refused, match="A03 was changed since"):
            undoing.take_back(done, **TOLD)
        assert standing(chain) == before
