"""A project written as one document and read back: the same bytes, the same figures, and nothing that does not hold.

The demo stands for a whole project. The file is damaged in every way a hand or a disk might damage it.
"""

import json
from collections.abc import Callable, Iterator
from datetime import timedelta
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.core.management import CommandError, call_command
from django.db import transaction

from budget.models import LineItem, Quote, QuoteLine
from decisions.calc import sealing
from decisions.models import Decision, Record
from decisions.services import drafts, records
from projects import uploads
from projects.faults import Refused
from projects.models import Attachment, Membership, Project, Role, User
from projects.services import people
from reports.demo import load as demo
from reports.exchange import belonging, dumping, loading, proving
from schedule.models import Activity
from tests import builders
from tests.builders import NOW, TODAY

#: What a document leaves out, each with a reason. Whatever else is new has to be in it.
LEFT_OUT = {"projects.project": "it is the document itself", "projects.user": "people go by their user names"}


def test_every_table_is_in_the_document_or_left_out_for_a_reason():
    ours = {
        dumping.table_name(m)
        for m in apps.get_models()
        if m._meta.app_label in belonging.APPS and not m._meta.auto_created
    }
    assert {dumping.table_name(model) for model in belonging.tables()} == ours - set(LEFT_OUT)


def test_a_table_stands_after_those_it_points_to():
    order = belonging.tables()
    for place, model in enumerate(order):
        for tie in belonging.ties(model):
            there = belonging.target(tie)
            assert there in (Project, User, model) or order.index(there) < place


@pytest.fixture(scope="module")
def written(django_db_setup: None, django_db_blocker: Any) -> Iterator[bytes]:
    """The demo as a document, from a database that forgets it at once."""
    with django_db_blocker.unblock(), transaction.atomic():
        data = dumping.as_bytes(demo.load())
        transaction.set_rollback(True)
    yield data


def read(data: bytes) -> dict[str, Any]:
    return json.loads(data)


def shifted(count: int = 3) -> None:
    """Other projects with rows of every common kind, so that a loaded project's rows get other numbers."""
    lead = builders.person("somebody")
    for number in range(count):
        other = builders.project(lead, name=f"Other {number}")
        line = builders.line(other, "L1")
        builders.quote(line, 9_000)
        builders.decision(line)


@pytest.mark.django_db
def test_the_demo_comes_back_as_the_same_bytes(written: bytes):
    project = loading.load(written)
    assert dumping.as_bytes(project) == written
    assert proving.faults(project) == []


@pytest.mark.django_db
def test_it_comes_back_the_same_beside_other_projects(written: bytes):
    shifted()
    first, second = loading.load(written), loading.load(written, slug="again")
    assert dumping.as_bytes(first) == written
    again = read(dumping.as_bytes(second))
    assert again["project"].pop("slug") == "again"
    expected = read(written)
    expected["project"].pop("slug")
    assert again == expected and proving.faults(second) == []


@pytest.mark.django_db
def test_a_record_keeps_its_seal_wherever_its_project_goes(written: bytes):
    """A printed record bears the hash; it has to be found again after a move to rows of other numbers."""
    shifted()
    project = loading.load(written)
    kept = {row["sha256"] for row in rows(read(written), "decisions.record")}
    assert kept == set(Record.objects.filter(decision__project=project).values_list("sha256", flat=True))


@pytest.mark.django_db
def test_nothing_of_another_project_is_in_it(written: bytes, project: Project):
    line = builders.line(project, "SECRET")
    builders.quote(line, 5, vendor="Secret vendor")
    found = dumping.as_bytes(loading.load(written)).decode()
    assert "SECRET" not in found and "Secret vendor" not in found


@pytest.mark.django_db
def test_passwords_and_secrets_of_invitations_stay_out(project: Project, lead: User):
    lead.set_password("a secret of mine")
    lead.save()
    invited = people.invite(project, role=Role.OWNER, note="to Olu", by=lead, now=NOW)
    data = dumping.as_bytes(project)
    for secret in (lead.password, invited.secret, people.hash_of(invited.secret)):
        assert secret.encode() not in data
    again = loading.load(data, slug="again")
    assert dumping.as_bytes(again).replace(b'"again"', b'"%s"' % project.slug.encode()) == data


@pytest.mark.django_db
def test_people_are_matched_by_user_name_and_new_ones_cannot_sign_in(written: bytes):
    known = builders.person("lead", "Somebody Else")
    project = loading.load(written)
    owner = User.objects.get(username="owner")
    assert Membership.objects.get(project=project, user=known).role == Role.LEAD and known.first_name == "Somebody Else"
    assert (owner.first_name, owner.has_usable_password(), owner.is_staff) == ("Owner", False, False)


@pytest.mark.django_db
def test_attachments_come_with_their_content(project: Project, settings: Any, tmp_path: Path):
    kept = builders.attachment(project, "drawing.png", builders.PNG)
    data = dumping.as_bytes(project)
    settings.MEDIA_ROOT = tmp_path / "elsewhere"
    again = loading.load(data, slug="again")
    row = Attachment.objects.get(project=again)
    assert (row.name, row.sha256) == (kept.name, kept.sha256) and uploads.path_of(
        row.sha256
    ).read_bytes() == builders.PNG


@pytest.mark.django_db
def test_a_missing_content_is_said_before_anything_is_written(project: Project, settings: Any, tmp_path: Path):
    builders.attachment(project)
    settings.MEDIA_ROOT = tmp_path / "elsewhere"
    with pytest.raises(Refused, match="missing from this machine"):
        dumping.as_bytes(project)


@pytest.mark.django_db
def test_a_loaded_record_that_waits_is_approved_at_the_agreed_amounts(lead: User):
    """A record numbers lines and quotes; here those numbers are other ones, and the agreed price has to find its line."""
    project = builders.project(lead, lead_limit=1)
    line = builders.line(project, "L1", budget=10_000)
    quote = builders.quote(line, 9_000)
    decision = builders.decision(line, options=(9_500,))
    item = drafts.ItemDraft(line.pk, name="as quoted", quote_id=quote.pk)
    option = drafts.add_option(decision, drafts.OptionDraft(name="Aridlow", items=(item,)), by=lead, now=NOW)
    choice = records.Choice(option.pk, "cheapest", amounts={line.pk: 880_000})
    record = records.record(Decision.objects.get(pk=decision.pk), choice, by=lead, role=Role.LEAD, now=NOW, today=TODAY)
    assert record.needs_approval
    data = dumping.as_bytes(project)
    shifted()
    again = loading.load(data, slug="again")
    owner = builders.member(again, builders.person("owner"), Role.OWNER).user
    waiting = Record.objects.get(decision__project=again)
    records.approve(waiting, verdict="approved", note="", by=owner, role=Role.OWNER, now=NOW, today=TODAY)
    assert LineItem.objects.get(project=again, code="L1").agreed_minor == 880_000 and proving.faults(again) == []
    records.reopen(Decision.objects.get(project=again), reason="slip", by=lead, now=NOW + timedelta(1), today=TODAY)
    assert LineItem.objects.get(project=again, code="L1").agreed_minor is None and proving.faults(again) == []


# --- What is refused ------------------------------------------------------------------------------------------------


def rows(document: dict[str, Any], table: str) -> list[dict[str, Any]]:
    return document["tables"][table]


def put(*way: Any, to: Any) -> Callable[[dict[str, Any]], None]:
    """Change one value, found by its way through the document."""

    def damage(document: dict[str, Any]) -> None:
        found: Any = document
        for step in way[:-1]:
            found = found[step]
        found[way[-1]] = to

    return damage


def drop(*way: Any) -> Callable[[dict[str, Any]], None]:
    def damage(document: dict[str, Any]) -> None:
        found: Any = document
        for step in way[:-1]:
            found = found[step]
        del found[way[-1]]

    return damage


def altered_record(document: dict[str, Any]) -> None:
    row = rows(document, "decisions.record")[0]
    row["frozen"] = row["frozen"].replace('"reason":"', '"reason":"Not ')


def reshaped_record(document: dict[str, Any]) -> None:
    row = rows(document, "decisions.record")[0]
    row["frozen"] = sealing.canonical({"choice": {"amounts": ["x"]}})
    row["sha256"] = sealing.hash_of(row["frozen"])


def moved_movement(document: dict[str, Any]) -> None:
    rows(document, "budget.movement")[0]["amount_minor"] += 1


def unlevelled(document: dict[str, Any]) -> None:
    rows(document, "budget.quoteline")[5]["levelled_minor"] += 1


LINE, QUOTE, TRAIL = (
    ("tables", "budget.lineitem", 3),
    ("tables", "budget.quote", 2),
    ("tables", "projects.trailentry", 1),
)
DAMAGE: dict[str, tuple[Callable[[dict[str, Any]], None], str]] = {
    "another format": (put("format", to="other"), "format"),
    "a later version": (put("version", to=4), "version: 4 cannot be read here; 3 and before can"),
    "a version that is none": (put("version", to=True), "version: True cannot be read here"),
    "version nought": (put("version", to=0), "version: 0 cannot be read here"),
    "a table of this version that is missing": (drop("tables", "budget.invoice"), "tables.budget.invoice: this is missing"),
    "a table of the sequence that is missing": (drop("tables", "schedule.link"), "tables.schedule.link: this is missing"),
    "a kept date that the network does not give": (put("tables", "schedule.activity", 50, "float_days", to=77), "do not hold"),
    "a column of this version that is missing": (drop(*LINE, "moved_minor"), r"budget.lineitem\[3\].moved_minor: this is missing"),
    "an unknown part": (put("extra", to=1), "document.extra: this name is not known"),
    "a missing part": (drop("users"), "document.users: this is missing"),
    "an unknown table": (put("tables", "budget.bill", to=[]), "tables.budget.bill: this name is not known"),
    "a missing table": (drop("tables", "budget.trade"), "tables.budget.trade: this is missing"),
    "a table that is none": (put("tables", "budget.trade", to={}), "budget.trade: a list is needed here"),
    "a row that is none": (put(*LINE, to=5), r"budget.lineitem\[3\]: an object is needed here"),
    "an unknown column": (put(*LINE, "colour", to="red"), r"budget.lineitem\[3\].colour: this name is not known"),
    "a missing column": (drop(*LINE, "code"), r"budget.lineitem\[3\].code: this is missing"),
    "nothing where there must be something": (put(*LINE, "code", to=None), r"budget.lineitem\[3\].code: this is missing"),
    "an empty text": (put(*LINE, "code", to=""), r"budget.lineitem\[3\].code: this is empty"),
    "a long text": (put(*LINE, "code", to="x" * 21), r"budget.lineitem\[3\].code: the text is longer than 20"),
    "a number for a text": (put(*LINE, "code", to=5), r"budget.lineitem\[3\].code: a text"),
    "a zero byte": (put(*LINE, "code", to="a\0"), r"budget.lineitem\[3\].code: a text"),
    "a text for a number": (put(*LINE, "budget_minor", to="5"), r"budget.lineitem\[3\].budget_minor: a whole number"),
    "a broken number": (put(*LINE, "budget_minor", to=5.5), r"budget.lineitem\[3\].budget_minor: a whole number"),
    "a truth for a number": (put(*LINE, "budget_minor", to=True), r"budget.lineitem\[3\].budget_minor: a whole number"),
    "a huge number": (put(*LINE, "budget_minor", to=2**63), r"budget.lineitem\[3\].budget_minor: a whole number"),
    "a quantity that is none": (put(*LINE, "quantity", to="NaN"), r"budget.lineitem\[3\].quantity: a number"),
    "a date that is none": (put(*QUOTE, "quoted_on", to="2027-02-30"), r"budget.quote\[2\].quoted_on: a date"),
    "an instant without a zone": (put(*QUOTE, "logged_at", to="2027-01-01T00:00:00"), r"budget.quote\[2\].logged_at: an instant"),
    "an unknown word": (put(*LINE, "kind", to="gift"), r"budget.lineitem\[3\].kind: this is none of: allowance"),
    "a trade that is not there": (put(*LINE, "trade", to=99), r"budget.lineitem\[3\].trade: row 99 of budget.trade"),
    "row zero": (put(*LINE, "trade", to=0), r"budget.lineitem\[3\].trade: row 0 of budget.trade"),
    "somebody unknown": (put(*QUOTE, "logged_by", to="ghost"), r"budget.quote\[2\].logged_by: nobody"),
    "a link that leads nowhere": (put("tables", "decisions.saving", 0, "lines", to=[9999]), r"decisions.saving\[0\].lines\[0\]: row 9999"),
    "a trail that leads nowhere": (put(*TRAIL, "details", to={"quote": 9999}), r"projects.trailentry\[1\]: row 9999"),
    "one user twice": (put("users", 1, to={"username": "lead", "first_name": "", "last_name": ""}), r"users\[2\].username"),
    "a user with a password": (put("users", 0, "password", to="x"), r"users\[0\].password: this name is not known"),
    "a code twice": (put(*LINE, "code", to="L0101"), "contradict a rule"),
    "a budget below zero": (put(*LINE, "budget_minor", to=-5), "contradict a rule"),
    "a short name that is none": (put("project", "slug", to="a/b"), "project.slug"),
    "an altered record": (altered_record, r"decisions.record\[0\].sha256: the seal"),
    "a record of another shape": (reshaped_record, r"decisions.record\[0\]: its frozen content"),
    "a ledger that does not add up": (moved_movement, "do not hold: .*budget plus movements"),
    "a kept figure that is not so": (unlevelled, "do not hold: .*levelled amount kept"),
    "a content that is not its hash": (put("files", "0" * 64, to="YQ=="), "files.0+.*does not fit its hash"),
    "a content that is none": (put("files", "0" * 64, to="*"), "base64"),
}  # fmt: skip


@pytest.mark.django_db
@pytest.mark.parametrize("name", DAMAGE)
def test_a_damaged_document_names_the_place_and_changes_nothing(written: bytes, name: str):
    damage, said = DAMAGE[name]
    document = read(written)
    damage(document)
    with pytest.raises(Refused, match=said):
        loading.load(json.dumps(document).encode())
    assert not Project.objects.exists() and not User.objects.exists() and not LineItem.objects.exists()


@pytest.mark.django_db
@pytest.mark.parametrize(
    "data",
    [b"", b"[]", b"{", b"\xff\xfe", b"null", b'{"format": NaN}', b"[" * 100_000, b'{"format": "batterboard project"}'],
)
def test_what_is_no_document_is_refused(data: bytes):
    with pytest.raises(Refused):
        loading.load(data)


# --- Commands -------------------------------------------------------------------------------------------------------


def said(*command: str) -> str:
    out = StringIO()
    call_command(*command, stdout=out)
    return out.getvalue()


@pytest.mark.django_db
def test_the_commands_write_and_read_a_file(project: Project, tmp_path: Path):
    builders.quote(builders.line(project, "L1"), 9_000)
    file = tmp_path / "project.json"
    said("project_dump", project.slug, str(file))
    assert said("project_dump", project.slug).encode() == file.read_bytes() == dumping.as_bytes(project)
    with pytest.raises(CommandError, match="give another short name with --slug"):
        said("project_load", str(file))
    assert said("project_load", str(file), "--slug", "two") == "Loaded Harbour hall as two.\n"


@pytest.mark.django_db
@pytest.mark.parametrize(
    "command", [("project_dump", "nowhere"), ("project_load", "/nowhere/x.json"), ("reconcile", "nowhere")]
)
def test_a_command_says_on_one_line_what_is_wrong(command: tuple[str, ...]):
    with pytest.raises(CommandError) as fault:
        said(*command)
    assert "\n" not in str(fault.value)


@pytest.mark.django_db
def test_reconcile_holds_for_a_project_and_finds_what_is_planted(project: Project):
    line = builders.line(project, "L1")
    builders.quote(line, 9_000)
    decided = builders.decision(builders.line(project, "L2"))
    option = decided.options.get(key="A")
    records.record(
        decided, records.Choice(option.pk, "why"), by=builders.lead_of(project), role=Role.LEAD, now=NOW, today=TODAY
    )
    builders.calendar(project)
    builders.activity(project, "A01", days=3)
    assert said("reconcile") == f"{project.slug}: every kept figure holds.\n"
    planted: list[tuple[Any, dict[str, Any], str]] = [
        (Activity.objects.filter(code="A01"), {"float_days": 9}, "activity A01: the float kept is 9, by the network"),
        (Activity.objects.filter(code="A01"), {"critical": False}, "mark as critical"),
        (LineItem.objects.filter(pk=line.pk), {"likely_minor": 1}, "budget plus movements"),
        (LineItem.objects.filter(pk=line.pk), {"original_minor": 1}, "original amount"),
        (LineItem.objects.filter(pk=line.pk), {"agreed_minor": 1}, "agreed amount"),
        (QuoteLine.objects.filter(line=line), {"levelled_minor": 1}, "levelled amount"),
        (QuoteLine.objects.filter(line=line), {"net_minor": 1}, "net amount"),
        (QuoteLine.objects.filter(line=line), {"given_minor": 1}, "given amount"),
        (QuoteLine.objects.filter(line=line), {"complete": False}, "kept as complete"),
    ]
    Project.objects.filter(pk=project.pk).update(settled_on=TODAY)
    for rows_, change, words in planted:
        with transaction.atomic():
            rows_.update(**change)
            assert words in caught(project)
            transaction.set_rollback(True)
    from django.db.models import QuerySet

    QuerySet.update(Record.objects.all(), reason="x")
    assert said("reconcile", project.slug) == f"{project.slug}: every kept figure holds.\n"
    QuerySet.update(Record.objects.all(), frozen="{}")
    assert "seal does not fit" in caught(project)


def caught(project: Project) -> str:
    out = StringIO()
    with pytest.raises(CommandError, match="do not hold") as fault:
        call_command("reconcile", project.slug, stdout=out)
    assert fault.value.returncode == 1
    return out.getvalue()


@pytest.mark.django_db
def test_the_lead_downloads_the_document_that_the_command_writes(project: Project, lead: User):
    builders.quote(builders.line(project, "L1"), 9_000)
    answer = builders.signed_in(lead).get(f"/p/{project.slug}/project/exchange/project.json")
    assert (
        answer.content == dumping.as_bytes(Project.objects.get(pk=project.pk))
        and Quote.objects.filter(project=project).count() == 1
    )
