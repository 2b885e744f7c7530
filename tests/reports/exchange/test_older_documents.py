"""A document written before changes, invoices and payments, or the sequence, had tables is read, proved, and keeps its seals.

What an old document looks like is taken from the migrations that had been written then, not from what the reader fills in.
"""

import json
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import pytest
from django.apps import apps
from django.db.migrations.loader import MigrationLoader

from budget.models import Change, Invoice, LineItem
from decisions.models import Record
from projects.faults import Refused
from projects.models import ExchangeRate, Project, User
from reports.exchange import belonging, dumping, loading, proving, versions
from reports.models import IssuedReport
from reports.services import issuing
from tests import builders
from tests.builders import NOW, TODAY
from tests.decisions import building

#: The last migrations of each earlier version.
LAST = {
    1: [("projects", "0001_initial"), ("budget", "0002_initial"), ("decisions", "0002_initial"), ("reports", "0001_initial")],
    2: [
        ("projects", "0002_rates_of_today_and_tax"), ("budget", "0006_rows_of_sheets"), ("decisions", "0003_savings_book"),
        ("reports", "0001_initial"),
    ],
}  # fmt: skip


def shape_at(migrations: list[tuple[str, str]]) -> dict[str, set[str]]:
    """{table: its columns} once some migrations had run."""
    state = MigrationLoader(None).project_state(migrations)
    return {f"{app}.{name}": set(model.fields) for (app, name), model in state.models.items()}


def named() -> dict[str, set[str]]:
    """{table: its columns} of today."""
    return {
        dumping.table_name(model): {field.name for field in [*model._meta.concrete_fields, *model._meta.many_to_many]}
        for model in (Project, *belonging.tables())
    }


@pytest.mark.parametrize("version", LAST)
def test_what_the_versions_since_added_is_what_the_migrations_added_since(version: int) -> None:
    """A new table or column that no version names would make every document before it unreadable."""
    then, now = shape_at(LAST[version]), named()
    since = [added for number, added in versions.SINCE.items() if number > version]
    tables = {name for added in since for name in added.tables}
    columns: dict[str, set[str]] = {}
    for added in since:
        for name, some in added.columns.items():
            columns.setdefault(name, set()).update(some)
    assert tables == set(now) - set(then) and max(versions.SINCE) == dumping.VERSION
    assert columns == {name: now[name] - then[name] for name in now if name in then and now[name] - then[name]}


def test_whatever_is_filled_in_has_a_first_value() -> None:
    for added in versions.SINCE.values():
        for name, columns in added.columns.items():
            fields = [apps.get_model(name)._meta.get_field(column) for column in columns]
            assert all(field.has_default() or field.null for field in fields), name


# --- reading one ------------------------------------------------------------------------------------------------------


@pytest.fixture(params=sorted(LAST))
def old(project: Project, lead: User, request: pytest.FixtureRequest) -> Iterator[bytes]:
    """A project of an earlier version: quotes in two currencies, a decision with knock-ons, an agreement, a report."""
    version = request.param
    ExchangeRate.objects.create(project=project, currency="EUR", rate=Decimal("0.86"), rated_on=TODAY, entered_at=NOW)
    builders.aside(project)
    builders.let(builders.line(project, "L0601"), 10_000, currency="EUR", rate=Decimal("0.86"), retention=5)
    builders.quote(builders.line(project, "L0602"), 8_000)
    builders.line(project, "L0603")
    building.record(building.tank(project), "B")
    issuing.issue(project, note="", by=lead, now=NOW, today=TODAY)
    yield as_version(dumping.as_bytes(project), version)


def as_version(data: bytes, version: int) -> bytes:
    then, document = shape_at(LAST[version]), json.loads(data)
    document["version"] = version
    document["project"] = {
        name: value for name, value in document["project"].items() if name in then["projects.project"]
    }
    tables = {name: rows for name, rows in document["tables"].items() if name in then}
    document["tables"] = {
        name: [{column: value for column, value in row.items() if column in then[name]} for row in rows]
        for name, rows in tables.items()
    }
    return json.dumps(document).encode()


def read(data: bytes) -> dict[str, Any]:
    return json.loads(data)


def without_name(project: Project) -> dict[str, Any]:
    """Its document, but for the short name."""
    found = read(dumping.as_bytes(project))
    del found["project"]["slug"]
    return found


def test_an_old_document_is_read_and_every_figure_holds(old: bytes, project: Project) -> None:
    loaded = loading.load(old, slug="again")
    assert proving.faults(loaded) == [] and without_name(loaded) == without_name(project)
    assert read(old)["version"] < read(dumping.as_bytes(loaded))["version"] == dumping.VERSION


def test_what_it_did_not_know_stands_at_its_first_value(old: bytes) -> None:
    loaded = loading.load(old, slug="again")
    assert (loaded.tax_percent, loaded.tax_recovered, str(loaded.rate_swing_percent)) == (None, True, "5")
    assert {rate.purpose for rate in loaded.rates.all()} == {"budget"}
    kept = LineItem.objects.filter(project=loaded).values_list(
        "changes_minor", "invoiced_minor", "retention_minor", "moved_minor", "currency_minor"
    )
    assert set(kept) == {(0, 0, 0, 0, 0)} and not Invoice.objects.filter(project=loaded).exists()


def test_records_and_issued_reports_keep_their_seals(old: bytes, project: Project) -> None:
    sealed = (Record.objects.filter(decision__project=project), IssuedReport.objects.filter(project=project))
    before = [set(rows.values_list("sha256", flat=True)) for rows in sealed]
    loaded = loading.load(old, slug="again")
    after = (Record.objects.filter(decision__project=loaded), IssuedReport.objects.filter(project=loaded))
    assert [set(rows.values_list("sha256", flat=True)) for rows in after] == before and all(before)


def test_money_goes_on_in_it_as_in_any_other(old: bytes) -> None:
    loaded = loading.load(old, slug="again")
    line = LineItem.objects.get(project=loaded, code="L0601")
    made = builders.change(line, 500)
    builders.approved(line, 4_000, retention=200, rate=Decimal("0.88"), currency="EUR")
    assert Change.objects.get(pk=made.pk).code == "C01" and proving.faults(loaded) == []


@pytest.mark.parametrize(
    ("lost", "said"),
    [
        (("tables", "budget.trade"), "tables.budget.trade: this is missing"),
        (("tables", "budget.lineitem", 0, "budget_minor"), r"budget.lineitem\[0\].budget_minor: this is missing"),
        (("project", "currency"), "project.currency: this is missing"),
        (("users",), "document.users: this is missing"),
        (("tables",), "document.tables: this is missing"),
    ],
)  # fmt: skip
def test_what_its_own_version_had_is_never_filled_in(old: bytes, lost: tuple[Any, ...], said: str) -> None:
    document = read(old)
    found: Any = document
    for step in lost[:-1]:
        found = found[step]
    del found[lost[-1]]
    with pytest.raises(Refused, match=said):
        loading.load(json.dumps(document).encode(), slug="again")


@pytest.mark.parametrize(
    ("place", "value"),
    [
        (("tables",), []), (("tables", "budget.lineitem"), {}), (("tables", "budget.lineitem"), [5]), (("project",), "x"),
        (("tables", "budget.invoice"), "x"),
    ],
)  # fmt: skip
def test_an_old_document_of_another_shape_is_refused_with_its_place(
    old: bytes, place: tuple[str, ...], value: Any
) -> None:
    document = read(old)
    found: Any = document
    for step in place[:-1]:
        found = found[step]
    found[place[-1]] = value
    with pytest.raises(Refused, match=place[-1]):
        loading.load(json.dumps(document).encode(), slug="again")
    assert not Project.objects.filter(slug="again").exists()


def test_an_old_document_whose_figures_were_altered_is_refused(old: bytes) -> None:
    document = read(old)
    document["tables"]["budget.lineitem"][0]["likely_minor"] += 1
    with pytest.raises(Refused, match="do not hold"):
        loading.load(json.dumps(document).encode(), slug="again")


def test_this_version_is_not_filled_in(project: Project) -> None:
    document = read(dumping.as_bytes(project))
    del document["tables"]["budget.risk"]
    with pytest.raises(Refused, match=r"tables.budget.risk: this is missing"):
        loading.load(json.dumps(document).encode(), slug="again")
