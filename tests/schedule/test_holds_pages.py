"""The pages of hold points, as each role sees them."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from projects.models import Attachment, Project, User
from schedule.models import HoldCheck, HoldPoint, Overrule, Proof, Signature
from schedule.selectors import holds as reads
from schedule.services import holds
from tests import builders
from tests.builders import TODAY
from tests.schedule import holding
from tests.schedule.holding import hold_on, pour, released, state

JPEG = b"\xff\xd8\xff\xe0" + b"\x00" * 40


@pytest.fixture
def build(project: Project) -> Project:
    return holding.build(project)


@pytest.fixture
def as_lead(lead: User) -> Client:
    return builders.signed_in(lead)


def at(project: Project, below: str = "") -> str:
    return f"/p/{project.slug}/sequence/holds/{below}"


def text(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def found(**entries: Any) -> dict[str, Any]:
    return {"value": "seen", "answer": "passes", "seen_on": TODAY.isoformat(), "seen_by": "Lee", "note": ""} | entries


def photographed(project: Project) -> tuple[HoldPoint, str]:
    """A hold point with one check that asks for a photograph, and the address of that check."""
    hold = hold_on(project, checks=(holds.CheckDraft("Laps", "150 mm", evidence_named="walk-round"),))
    return hold, at(project, f"{hold.pk}/checks/{hold.checks.get().pk}/")


# --- the list -----------------------------------------------------------------------------------------------------


def test_the_page_says_first_what_may_not_go_on_and_what_it_costs(build: Project, as_lead: Client):
    hold_on(build, cost=41_000)
    page = text(as_lead.get(at(build)))
    assert (
        "Pour on Wed 3 Feb 2027 may not go on yet: 2 proofs and 2 signatures are missing; covering it wrong costs £41,000."
        in page
    )
    assert "Engineer, Site lead must sign." in page and "Bars: note missing" in page


def test_work_without_a_hold_point_is_asked_about_and_never_told_yes(build: Project, as_lead: Client):
    page = text(as_lead.get(at(build)))
    assert "No hold point stands before it: is that right?" in page and "Yes." not in page


def test_what_is_released_may_be_covered(build: Project, as_lead: Client):
    released(hold_on(build))
    page = text(as_lead.get(at(build)))
    assert "Every hold point is released." in page and "Everything is shown and signed." in page


def test_who_may_not_plan_is_offered_nothing_to_do(build: Project, viewer: User):
    hold = hold_on(build)
    client = builders.signed_in(viewer)
    for below in ("", f"{hold.pk}/", f"{hold.pk}/sheet/"):
        page = text(client.get(at(build, below)))
        assert "/overrule/" not in page and "/sign/" not in page and "/checks/" not in page and "/usual/" not in page
    for below in (
        f"{hold.pk}/sign/",
        f"{hold.pk}/visit/",
        f"{hold.pk}/edit/",
        f"{hold.pk}/overrule/{pour(build).pk}/",
        "new/",
    ):
        assert client.post(at(build, below)).status_code == 403


# --- what was found -----------------------------------------------------------------------------------------------


def test_a_photograph_and_one_tap_show_a_check(build: Project, as_lead: Client):
    hold, address = photographed(build)
    answer = as_lead.post(address, found(value="", files=builders.upload("laps.jpg", JPEG)), follow=True)
    proof = Proof.objects.get()
    assert proof.passes and proof.files.get().attachment.name == "laps.jpg" and 'alt="laps.jpg"' in text(answer)
    assert "Laps: passes. H01 Before H01 is open: 2 signatures are missing." in text(answer)


def test_a_photograph_survives_a_refusal(build: Project, as_lead: Client):
    hold, address = photographed(build)
    answer = as_lead.post(address, found(answer="", files=builders.upload("laps.jpg", JPEG)))
    assert answer.status_code == 422 and "Say whether it passes." in text(answer)
    kept = Attachment.objects.get()
    assert f'name="kept" value="{kept.pk}"' in text(answer)
    as_lead.post(address, found(kept=[kept.pk]))
    assert Proof.objects.get().files.get().attachment == kept


def test_a_reading_that_disagrees_with_its_limit_is_asked_about_once(build: Project, as_lead: Client):
    hold = hold_on(build, checks=(holds.CheckDraft("Cover", "40 mm +/-5", evidence="reading"),))
    address = at(build, f"{hold.pk}/checks/{hold.checks.get().pk}/")
    answer = as_lead.post(address, found(value="30 mm"))
    assert answer.status_code == 422 and "lies outside of the limit 40 mm +/-5" in text(answer)
    page = text(as_lead.post(address, found(value="30 mm", sure="on"), follow=True))
    assert Proof.objects.get().passes and "The figures say otherwise; whoever looked has judged it so." in page


@pytest.mark.parametrize(
    ("entries", "fault"),
    [
        ({"answer": ""}, "Say whether it passes."),
        ({"answer": "maybe"}, "Select a valid choice"),
        ({"value": "x" * 201}, "at most 200"),
        ({"seen_on": "yesterday"}, "This is not a date"),
        ({"seen_on": (TODAY + timedelta(days=1)).isoformat()}, "is out of range"),
        ({}, "say in the note where it is kept"),
        ({"files": builders.upload("laps.exe", b"MZ")}, "none of the kinds"),
        ({"kept": ["x", "9" * 30, "-1"]}, "say in the note where it is kept"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_is_written(build: Project, as_lead: Client, entries: dict, fault: str):
    _hold, address = photographed(build)
    answer = as_lead.post(address, found(**entries))
    assert answer.status_code == 422 and fault in text(answer) and not Proof.objects.exists()


def test_a_check_of_another_hold_point_is_not_found_here(build: Project, as_lead: Client, outsider: User):
    hold, address = photographed(build)
    other = hold_on(build, code="H02")
    assert as_lead.get(at(build, f"{other.pk}/checks/{hold.checks.get().pk}/")).status_code == 404
    assert builders.signed_in(outsider).post(address, found()).status_code == 404


# --- signing, visits, overruling ----------------------------------------------------------------------------------


def test_signing_too_early_is_warned_of_kept_and_told_on_the_page(build: Project, as_lead: Client):
    hold = hold_on(build)
    address = at(build, f"{hold.pk}/sign/")
    assert "A signature now is kept and releases nothing" in text(as_lead.get(address + "?role=Engineer"))
    sent = {"role": "Engineer", "name": "Ina Inspect", "signed_on": TODAY.isoformat()}
    page = text(as_lead.post(address, sent, follow=True))
    assert "signed too early" in page and state(hold) == "open"


def test_the_last_signature_releases_and_an_undo_takes_it_back(build: Project, as_lead: Client):
    hold = released(hold_on(build))
    signature = hold.signatures.get(role="Engineer")
    as_lead.post(at(build, f"{hold.pk}/signatures/{signature.pk}/undo/"))
    assert state(hold) == "open" and Signature.objects.filter(reverses=signature).count() == 1
    sent = {"role": "Engineer", "name": "Ina Inspect", "signed_on": TODAY.isoformat()}
    assert "is released." in text(as_lead.post(at(build, f"{hold.pk}/sign/"), sent, follow=True))


def test_a_signature_is_taken_back_with_a_reason(build: Project, as_lead: Client):
    hold = released(hold_on(build))
    address = at(build, f"{hold.pk}/signatures/{hold.signatures.get(role='Engineer').pk}/take-back/")
    assert as_lead.post(address, {"reason": ""}).status_code == 422
    as_lead.post(address, {"reason": "wrong sheet"})
    assert state(hold) == "open"


def test_a_late_visit_says_when_they_can_come_and_a_booked_one_the_day(build: Project, as_lead: Client):
    hold = hold_on(build)
    page = text(as_lead.get(at(build, f"{hold.pk}/")))
    assert (
        "It had to be asked for by Thu 28 Jan 2027 (2 working days of notice); asked today, they come on Wed 3 Feb 2027"
        in page
    )
    page = text(as_lead.post(at(build, f"{hold.pk}/visit/"), {"visit_on": "2027-02-02"}, follow=True))
    assert "Booked for <strong>Tue 2 Feb 2027</strong>" in page


def test_overruling_says_what_it_costs_and_lets_the_work_start(build: Project, as_lead: Client):
    hold = hold_on(build, cost=41_000)
    address = at(build, f"{hold.pk}/overrule/{pour(build).pk}/")
    page = text(as_lead.get(address))
    assert "If it was covered wrong, it costs £41,000." in page and "The owners see who went over it" in page
    assert as_lead.post(address, {"reason": " "}).status_code == 422 and not Overrule.objects.exists()
    page = text(as_lead.post(address, {"reason": "inspector ill"}, follow=True))
    assert "is overruled: A03 Pour may start" in page and "inspector ill" in page
    assert "It is overruled for A03 Pour" in page and "Until it is released it stops" not in page
    assert as_lead.get(address).status_code == 404  # nothing is stopped any more


def test_what_a_hold_point_does_not_stop_cannot_be_overruled(build: Project, as_lead: Client):
    hold = hold_on(build)
    assert as_lead.get(at(build, f"{hold.pk}/overrule/{build.activities.get(code='A04').pk}/")).status_code == 404


# --- the hold point itself ----------------------------------------------------------------------------------------


def typed(build: Project, **entries: Any) -> dict[str, Any]:
    """A hold point as the form sends it, with one stop and one check."""
    return {
        "title": "Before the pour", "activity": "A02 · Inspect", "kind": "hold", "signers": "Engineer\n\nSite lead\n", "cost": "41,000",
        "stops-TOTAL_FORMS": 1, "stops-INITIAL_FORMS": 0, "stops-0-activity": "A03",
        "checks-TOTAL_FORMS": 2, "checks-INITIAL_FORMS": 0, "checks-0-text": "Laps", "checks-0-limit": "150 mm",
        "checks-0-limit_from": "engineer", "checks-0-limit_named": "sheet S-1", "checks-0-evidence": "photograph",
        "checks-1-limit_from": "start", "checks-1-evidence": "photograph",
    } | entries  # fmt: skip


def test_what_is_typed_becomes_a_hold_point(build: Project, as_lead: Client):
    as_lead.post(at(build, "new/"), typed(build))
    made = HoldPoint.objects.get()
    assert (made.code, made.activity.code, made.cost_if_wrong_minor) == ("H01", "A02", 4_100_000)
    assert list(made.signers.values_list("role", flat=True)) == ["Engineer", "Site lead"]
    assert list(made.checks.values_list("text", "limit_from", "limit_named")) == [("Laps", "engineer", "sheet S-1")]


@pytest.mark.parametrize(
    ("entries", "fault"),
    [
        ({"title": ""}, "Say what is looked at."),
        ({"activity": "A99"}, "There is no activity “A99” in the plan"),
        ({"signers": ""}, "Say who signs"),
        ({"stops-0-activity": ""}, "Say which work may not start"),
        ({"stops-0-activity": "A02"}, "It cannot stop the work in which it is looked at."),
        ({"checks-0-text": ""}, "Say what is looked at."),
        ({"cost": "much"}, "This is not an amount"),
        ({"checks-TOTAL_FORMS": "many"}, "ManagementForm"),
    ],
)
def test_what_makes_no_hold_point_is_said_at_its_place(build: Project, as_lead: Client, entries: dict, fault: str):
    answer = as_lead.post(at(build, "new/"), typed(build, **entries))
    assert answer.status_code == 422 and fault in text(answer) and not HoldPoint.objects.exists()


def test_a_usual_one_is_filled_in_and_nothing_is_saved_yet(build: Project, as_lead: Client):
    page = text(as_lead.get(at(build, "usual/?stops=A03")))
    assert "Leak test" in page and "?from=pour&amp;stops=A03" in page
    page = text(as_lead.get(at(build, "new/?from=bars&stops=A03")))
    assert "150 mm laps, no holes" in page and "common practice, no source" in page and 'value="A03 · Pour"' in page
    assert not HoldPoint.objects.exists()


def test_a_row_more_saves_nothing(build: Project, as_lead: Client):
    answer = as_lead.post(at(build, "new/"), typed(build, more_rows="checks"))
    assert answer.status_code == 200 and 'name="checks-2-text"' in text(answer) and not HoldPoint.objects.exists()


def test_changing_keeps_what_was_found(build: Project, as_lead: Client):
    hold = released(hold_on(build))
    page = as_lead.get(at(build, f"{hold.pk}/edit/"))
    entry = page.context["entry"]
    sent = {"title": "Before the pour, bay 2", "activity": "A02", "kind": "hold", "signers": "Engineer\nSite lead", "code": "H01",
            "version": hold.version, "stops-TOTAL_FORMS": 1, "stops-INITIAL_FORMS": 1, "stops-0-activity": "A03",
            "checks-TOTAL_FORMS": 2, "checks-INITIAL_FORMS": 2}  # fmt: skip
    for place, row in enumerate(entry.checks.forms):
        sent |= {f"checks-{place}-{name}": row.initial[name] or "" for name in row.fields if name in row.initial}
    assert as_lead.post(at(build, f"{hold.pk}/edit/"), sent).status_code == 302
    assert HoldPoint.objects.get().title == "Before the pour, bay 2" and state(hold) == "released"
    assert as_lead.post(at(build, f"{hold.pk}/edit/"), sent).status_code == 422  # the version is an older one now


def test_a_check_of_another_hold_point_cannot_be_taken_over(build: Project, as_lead: Client):
    other = hold_on(build, code="H02")
    stolen = other.checks.order_by("pk")[0]
    as_lead.post(at(build, "new/"), typed(build, **{"checks-0-id": stolen.pk}))
    stolen.refresh_from_db()
    assert stolen.hold == other and HoldCheck.objects.filter(text="Laps").count() == 1


def test_taking_one_away_asks_why(build: Project, as_lead: Client):
    hold = hold_on(build)
    address = at(build, f"{hold.pk}/remove/")
    assert as_lead.post(address, {"reason": ""}).status_code == 422
    as_lead.post(address, {"reason": "seen with bay 1"})
    assert as_lead.get(at(build, f"{hold.pk}/")).status_code == 404 and reads.book(build, today=TODAY).holds == ()


def test_words_are_never_taken_for_markup(build: Project, as_lead: Client):
    hold = hold_on(build, title="<script>x</script>", checks=(holds.CheckDraft("<b>Laps</b>", "<i>", evidence="word"),))
    for below in ("", f"{hold.pk}/", f"{hold.pk}/sheet/", f"{hold.pk}/edit/"):
        page = as_lead.get(at(build, below)).content.decode()
        assert "<script>x" not in page and "<b>Laps" not in page and "<i>" not in page


@pytest.mark.parametrize("below", ["", "{0}/", "{0}/sheet/"])
def test_a_page_reads_a_stated_number_of_times(
    build: Project, as_lead: Client, django_assert_max_num_queries, below: str
):
    """Session, user, door, plan; then the six of the book and one for files."""
    for number in range(3):
        hold = released(hold_on(build, code=f"H{number}"))
    as_lead.get(at(build))
    with django_assert_max_num_queries(11):
        as_lead.get(at(build, below.format(hold.pk)))


# --- a test over time ---------------------------------------------------------------------------------------------


def logged(build: Project) -> tuple[HoldPoint, str]:
    check = holds.CheckDraft("Drop over 2 hours", "0.1 bar or less", evidence="reading")
    hold = hold_on(build, checks=(check,))
    return hold, at(build, f"{hold.pk}/checks/{hold.checks.get().pk}/")


READINGS = {
    "readings": "09:00 6.0\n11:00 5.95",
    "unit": "bar",
    "allowed_drop": "0.1",
    "gauge": "G-114",
    "calibrated_on": "2026-09-15",
}


def test_readings_over_time_say_what_they_come_to_and_are_drawn(build: Project, as_lead: Client):
    _hold, address = logged(build)
    page = text(as_lead.post(address, found(value="", **READINGS), follow=True))
    assert Proof.objects.get().value == "fell by 0.05 bar in 120 minutes"
    assert "Fell by 0.05 bar in 120 minutes; 0.1 bar is allowed. Gauge G-114, calibrated on Tue 15 Sept 2026." in page
    assert 'points="0,0 240,30"' in page


def test_a_test_that_fell_too_far_does_not_pass_by_a_slip(build: Project, as_lead: Client):
    _hold, address = logged(build)
    answer = as_lead.post(address, found(value="", **READINGS | {"readings": "09:00 6.0\n11:00 5.8"}))
    assert answer.status_code == 422 and "It fell by 0.2 bar where 0.1 is allowed" in text(answer)
    assert not Proof.objects.exists()


@pytest.mark.parametrize("readings", ["09:00 six", "09:00 6.0", "<b>x</b>\n9:00 1"])
def test_readings_that_cannot_be_read_are_named(build: Project, as_lead: Client, readings: str):
    _hold, address = logged(build)
    answer = as_lead.post(address, found(value="0.05 bar", **READINGS | {"readings": readings}))
    assert answer.status_code == 422 and "cannot be read; write a time and a reading" in text(answer)
    assert "<b>x" not in text(answer) and not Proof.objects.exists()
