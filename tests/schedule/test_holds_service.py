"""Hold points: what they stop, what releases them, and who may go over one.

The rules are the project's own (docs/adr/0404), after common practice: work does not go past an inspection until it is
approved, and stays open to view until then.
"""

from datetime import date, timedelta

import pytest

from projects.faults import Refused, Stale
from projects.models import Project, TrailEntry, User
from schedule.models import HoldCheck, HoldPoint, Proof, Signature
from schedule.selectors import holds as reads
from schedule.services import activities, holds, progress, proofs
from tests import builders
from tests.builders import TODAY
from tests.schedule import holding
from tests.schedule.holding import LATER, hold_on, missing, pour, prove, released, sign, start, state, who


@pytest.fixture
def build(project: Project) -> Project:
    return holding.build(project)


# --- what it stops ------------------------------------------------------------------------------------------------


def test_covering_work_does_not_start_and_the_refusal_names_what_is_missing(build: Project):
    hold_on(build)
    with pytest.raises(Refused) as fault:
        start(build)
    assert fault.value.field == "started_on" and pour(build).started_on is None
    for words in ("A03 Pour may not start yet", "H01 Before H01", "Bars: note missing", "Site lead has not signed"):
        assert words in fault.value.message


def test_a_released_hold_point_lets_it_start(build: Project):
    released(hold_on(build))
    start(build)
    assert pour(build).started_on == TODAY


@pytest.mark.parametrize("kind", ["witness", "record"])
def test_witness_and_record_points_let_the_work_go_on(build: Project, kind: str):
    hold_on(build, kind=kind)
    start(build)
    assert pour(build).started_on == TODAY


def test_work_that_has_begun_may_still_be_reported_done(build: Project):
    """The hold point came late: what began stays begun."""
    start(build)
    hold_on(build)
    progress.report(pour(build), started_on=TODAY, finished_on=TODAY, **who(build))
    assert pour(build).finished_on == TODAY


def test_a_hold_point_taken_away_stops_nothing(build: Project):
    hold = hold_on(build)
    holds.remove(hold, reason="looked at with the next bay", **who(build))
    start(build)
    assert "looked at with the next bay" in TrailEntry.objects.filter(subject="hold point").latest("pk").summary


@pytest.mark.parametrize("code", ["A02", "A03"])
def test_work_that_a_hold_point_names_does_not_leave_the_plan_unnoticed(build: Project, code: str):
    hold_on(build)
    with pytest.raises(Refused, match="H01 Before H01"):
        activities.remove(build.activities.get(code=code), reason="not needed", **who(build))


# --- evidence and signatures --------------------------------------------------------------------------------------


def test_a_signature_before_everything_is_shown_releases_nothing(build: Project):
    hold = hold_on(build)
    prove(hold, "Bars")
    sign(hold, "Engineer")
    sign(hold, "Site lead", at=LATER)
    prove(hold, "Cover", at=LATER + timedelta(minutes=1))
    assert state(
        hold
    ) == "open" and "Engineer signed before everything was shown to pass, and has to sign again" in missing(hold)


def test_evidence_that_fails_after_the_signatures_opens_it_again(build: Project):
    hold = released(hold_on(build))
    prove(hold, "Cover", passes=False, value="28 mm", at=LATER + timedelta(minutes=1))
    assert state(hold) == "failed" and "Cover failed: 28 mm" in missing(hold)
    with pytest.raises(Refused):
        start(build)


def test_a_failed_check_names_its_limit(build: Project):
    check = holds.CheckDraft("Level of formation", "+0 / -20 mm", evidence="reading")
    hold = hold_on(build, checks=(check,))
    prove(hold, "Level of formation", passes=False, value="-25 mm")
    assert missing(hold)[0] == "Level of formation failed: -25 mm, limit +0 / -20 mm"


def test_a_signature_is_taken_back_by_a_further_row_and_once_only(build: Project):
    hold = released(hold_on(build))
    signature = hold.signatures.get(role="Engineer")
    proofs.take_back_signature(signature, reason="wrong sheet", **who(build))
    assert state(hold) == "open" and missing(hold) == ("Engineer has not signed",)
    with pytest.raises(Refused, match="taken back already"):
        proofs.take_back_signature(signature, reason="again", **who(build))
    assert Signature.objects.filter(hold=hold).count() == 3


def test_a_role_that_does_not_sign_here_is_refused(build: Project):
    with pytest.raises(Refused, match="no role that signs here"):
        sign(hold_on(build), "Plumber")


REFUSED = [
    ("reading", {"value": ""}, "value", "Give the reading"),
    ("photograph", {"value": "ok"}, "files", "say in the note where it is kept"),
    ("document", {"value": "ok"}, "files", "say in the note where it is kept"),
    ("word", {"value": " "}, "value", "Show something"),
    ("photograph", {"passes": False, "value": ""}, "value", "Show something"),
    ("word", {"seen_on": TODAY + timedelta(days=1)}, "seen_on", "out of range"),
    ("word", {"value": "x" * 201}, "value", "At most 200 letters"),
]


@pytest.mark.parametrize(("evidence", "found", "field", "words"), REFUSED)
def test_nothing_is_ticked_without_its_evidence(build: Project, evidence: str, found: dict, field: str, words: str):
    hold = hold_on(build, checks=(holds.CheckDraft("Bars", evidence=evidence),))
    with pytest.raises(Refused, match=words) as fault:
        prove(hold, "Bars", **found)
    assert fault.value.field == field and not Proof.objects.exists()


def test_a_photograph_of_the_project_is_kept_with_what_was_found_and_one_of_another_is_not(
    build: Project, outsider: User
):
    hold = hold_on(build, checks=(holds.CheckDraft("Laps"),))
    elsewhere = outsider.memberships.get().project
    mine, other = (builders.attachment(one, "laps.png", builders.PNG) for one in (build, elsewhere))
    prove(hold, "Laps", attachment_ids=[mine.pk, other.pk])
    assert [row.attachment for row in Proof.objects.get().files.all()] == [mine]
    with pytest.raises(Refused):
        prove(hold, "Laps", attachment_ids=[other.pk])


def test_who_says_that_a_reading_outside_of_its_limit_passes_is_asked_once(build: Project):
    hold = hold_on(build, checks=(holds.CheckDraft("Cover", "40 mm +/-5", evidence="reading"),))
    with pytest.raises(Refused, match="lies outside of the limit 40 mm") as fault:
        prove(hold, "Cover", value="30 mm", sure=False)
    assert fault.value.field == "sure"
    with pytest.raises(Refused, match="lies within the limit"):
        prove(hold, "Cover", passes=False, value="38 mm", sure=False)
    assert prove(hold, "Cover", value="38 to 44 mm", sure=False).passes and prove(hold, "Cover", value="30 mm").passes


# --- changing it --------------------------------------------------------------------------------------------------


def drafted(hold: HoldPoint, **more) -> holds.HoldDraft:
    checks = tuple(
        holds.CheckDraft(one.text, one.limit, one.limit_from, one.limit_named, one.evidence, one.evidence_named, one.pk)
        for one in hold.checks.filter(removed_on=None)
    )
    usual = {
        "title": hold.title,
        "activity": "A02",
        "stops": ("A03",),
        "signers": ("Engineer", "Site lead"),
        "checks": checks,
    }
    return holds.HoldDraft(**usual | more)


def test_a_limit_that_changes_after_something_was_found_is_looked_at_anew(build: Project):
    hold = released(hold_on(build))
    bars, cover = hold.checks.order_by("pk")
    fresh = holds.CheckDraft("Cover", "45 mm +/-5", "engineer", "sheet S-12", "reading", id=cover.pk)
    kept = holds.CheckDraft("Bars", evidence="word", limit_from="engineer", limit_named="sheet S-11", id=bars.pk)
    holds.change(hold, drafted(hold, checks=(kept, fresh)), **who(build))
    standing = {check.text: check for check in hold.checks.filter(removed_on=None)}
    assert standing["Bars"].pk == bars.pk and standing["Bars"].limit_named == "sheet S-11"
    assert standing["Cover"].pk != cover.pk and Proof.objects.filter(hold_check=cover).exists()
    assert state(hold) == "open" and "Cover: reading missing" in missing(hold)


def test_changing_nothing_keeps_everything(build: Project):
    hold = released(hold_on(build))
    before = list(HoldCheck.objects.values_list("pk", "removed_on"))
    holds.change(hold, drafted(hold), version=hold.version, **who(build))
    assert list(HoldCheck.objects.values_list("pk", "removed_on")) == before and state(hold) == "released"


def test_another_signer_opens_it_again(build: Project):
    hold = released(hold_on(build))
    holds.change(hold, drafted(hold, signers=("Engineer", "Site lead", "Inspector")), **who(build))
    assert missing(hold) == ("Inspector has not signed",)


def test_who_saves_over_somebody_else_is_told(build: Project):
    hold = hold_on(build)
    holds.change(hold, drafted(hold), version=1, **who(build))
    with pytest.raises(Stale):
        holds.change(hold, drafted(hold), version=1, **who(build))


WRONG = [
    ({"title": " "}, "title"),
    ({"activity": "A99"}, "activity"),
    ({"stops": ()}, "stops"),
    ({"stops": ("A99",)}, "stops"),
    ({"stops": ("A02",)}, "stops"),
    ({"signers": ()}, "signers"),
    ({"signers": tuple(f"Role {n}" for n in range(13))}, "signers"),
    ({"checks": ()}, "checks"),
    ({"checks": ("  ",)}, "checks"),
    ({"checks": tuple(f"Check {n}" for n in range(41))}, "checks"),
    ({"kind": "light"}, "kind"),
    ({"cost": -1}, "cost"),
    ({"code": "H-far-too-long-a-code"}, "code"),
]


@pytest.mark.parametrize(("told", "field"), WRONG)
def test_what_makes_no_hold_point_is_refused_at_its_field(build: Project, told: dict, field: str):
    with pytest.raises(Refused) as fault:
        hold_on(build, **told)
    assert fault.value.field == field and not HoldPoint.objects.exists()


def test_codes_go_on_and_are_not_given_twice(build: Project):
    assert [hold_on(build, code=code).code for code in ("H07", "", "")] == ["H07", "H08", "H09"]
    with pytest.raises(Refused, match="already"):
        hold_on(build, code="h08")


# --- overruling ---------------------------------------------------------------------------------------------------


def test_an_overrule_lets_one_activity_start_and_keeps_what_was_missing(build: Project):
    hold = hold_on(build, stops=("A03", "A04"))
    given = holds.overrule(hold, pour(build), reason="inspector ill, photographs sent", **who(build))
    start(build)
    assert given.missing == [
        "Bars: note missing",
        "Cover: note missing",
        "Engineer has not signed",
        "Site lead has not signed",
    ]
    assert [one.verdict for one in reads.covering(build, today=TODAY) if one.work.code == "A04"] == ["no"]
    (seen,) = reads.overruled(build, today=TODAY)
    assert (seen.reason, seen.by, seen.cost_if_wrong_minor) == ("inspector ill, photographs sent", "Lee Lead", 900_000)


def test_what_is_not_stopped_cannot_be_overruled(build: Project):
    hold = released(hold_on(build))
    with pytest.raises(Refused, match="does not stop"):
        holds.overrule(hold, pour(build), reason="to be sure", **who(build))
    with pytest.raises(Refused, match="Give the reason"):
        holds.overrule(hold, pour(build), reason=" ", **who(build))


def test_evidence_that_fails_after_an_overrule_stops_the_work_again(build: Project):
    hold = hold_on(build)
    holds.overrule(hold, pour(build), reason="no time", **who(build))
    prove(hold, "Cover", passes=False, value="10 mm", at=LATER)
    with pytest.raises(Refused, match="Cover failed"):
        start(build)


# --- visits -------------------------------------------------------------------------------------------------------


def test_a_visit_is_asked_for_in_time_or_it_is_late(build: Project):
    """Held at Friday 29 January: pipes on Friday and Monday, the inspection on Tuesday 2 February, two clear days before it
    are Friday and Monday, so it had to be asked for on Thursday. By hand."""
    visit = reads.one(build, hold_on(build).pk, today=TODAY).visit
    assert (visit.on, visit.ask_by, visit.late) == (date(2027, 2, 2), date(2027, 1, 28), True)
    assert visit.earliest_on == date(2027, 2, 3) and visit.by == "Inspector"


def test_a_booked_visit_is_not_late(build: Project):
    hold = holds.book(hold_on(build), visit_on=date(2027, 2, 2), **who(build))
    visit = reads.one(build, hold.pk, today=TODAY).visit
    assert (visit.booked, visit.late) == (True, False)
    assert holds.book(hold, visit_on=None, **who(build)).booked_for is None


@pytest.mark.parametrize("days", [-1, 4_000])
def test_a_visit_is_booked_within_reason(build: Project, days: int):
    with pytest.raises(Refused) as fault:
        holds.book(hold_on(build), visit_on=TODAY + timedelta(days=days), **who(build))
    assert fault.value.field == "visit_on"


# --- reading ------------------------------------------------------------------------------------------------------


def test_one_answer_for_each_covering_activity_in_the_order_of_dates(build: Project):
    hold_on(build, stops=("A04",), cost=7_000)
    found = reads.covering(build, today=TODAY)
    assert [(one.work.code, one.verdict) for one in found] == [("A03", "unnamed"), ("A04", "no")]
    assert (found[1].counted, found[1].signs) == ("2 proofs and 2 signatures are missing", ("Engineer", "Site lead"))
    assert (
        found[1].cost_if_wrong_minor == 700_000
        and found[1].needed_by == build.activities.get(code="A04").early_start_on
    )


def test_what_is_done_asks_nothing_and_what_has_begun_only_while_something_is_open(build: Project):
    hold = hold_on(build)
    holds.overrule(hold, pour(build), reason="no time", **who(build))
    start(build)
    assert reads.covering(build, today=TODAY) == ()
    prove(hold, "Cover", passes=False, value="10 mm", at=LATER)
    (again,) = reads.covering(build, today=TODAY)
    assert again.begun and again.verdict == "no"


def test_what_stands_before_some_activities(build: Project):
    hold = hold_on(build)
    ids = [row.pk for row in build.activities.all()]
    found = reads.open_before(build, ids, today=TODAY)
    assert [(pk, [one.pk for one in stopping]) for pk, stopping in found.items()] == [(pour(build).pk, [hold.pk])]
    released(hold)
    assert reads.open_before(build, ids, today=TODAY) == {}


def test_everything_is_read_in_six_queries(build: Project, django_assert_num_queries):
    for number in range(4):
        released(hold_on(build, code=f"H{number}"))
    with django_assert_num_queries(6):
        reads.covering(build, today=TODAY)


def test_hold_points_of_another_build_are_not_read(build: Project, outsider: User):
    hold_on(build)
    elsewhere = outsider.memberships.get().project
    assert reads.book(elsewhere, today=TODAY) == reads.Book((), ())
