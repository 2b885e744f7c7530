"""Starting a project and keeping its settings, against the rules of the house (no outside source)."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from budget.models import LineItem
from projects import limits
from projects.faults import Refused, Stale
from projects.models import Membership, Project, Role, User
from projects.services import builds
from tests import builders
from tests.builders import NOW, TODAY

DRAFT = builds.ProjectDraft(name="Boat shed", currency="EUR", locale="en-IE", time_zone="Europe/Dublin")


def start(by: User, draft: builds.ProjectDraft = DRAFT, **amounts: Any) -> Project:
    return builds.create_project(draft, by=by, now=NOW, today=TODAY, **amounts)


def edit(project: Project, by: User, *, version: int = 1, **changes: Any) -> Project:
    names = builds.ProjectDraft.__dataclass_fields__
    standing = builds.ProjectDraft(**{name: getattr(project, name) for name in names})
    return builds.edit_project(project, replace(standing, **changes), by=by, now=NOW, version=version)


def test_who_starts_a_build_leads_it(lead: User):
    project = start(lead)
    assert Membership.objects.get(project=project).role == Role.LEAD
    assert project.trail.order_by("pk")[0].summary == "Started the project Boat shed"


def test_its_address_does_not_tell_of_another_of_the_same_name(lead: User):
    first, second = start(lead), start(lead)
    assert first.slug != second.slug
    assert first.slug.startswith("boat-shed-") and second.slug.startswith("boat-shed-")
    assert len(first.slug) == len(second.slug)


@pytest.mark.parametrize("name", ["水族館", "—", "a" * 120])
def test_any_name_has_an_address(name: str, lead: User):
    slug = start(lead, replace(DRAFT, name=name)).slug
    assert 0 < len(slug) <= 60 and slug.isascii()


def test_without_limits_lead_and_owner_commit_any_amount(lead: User):
    project = start(lead)
    assert limits.allows(project, Role.LEAD, 10**12) and limits.allows(project, Role.OWNER, 10**12)
    assert not limits.allows(project, Role.BOOKKEEPER, 1)


def test_a_limit_holds_the_lead(lead: User):
    project = start(lead, lead_limit_minor=100)
    assert limits.allows(project, Role.LEAD, 100) and not limits.allows(project, Role.LEAD, 101)


def test_a_build_starts_with_the_common_trades_and_its_contingency(lead: User):
    project = start(lead, contingency_minor=5_000_00)
    line = LineItem.objects.get(project=project)
    assert (line.kind, line.budget_minor) == (LineItem.Kind.CONTINGENCY, 5_000_00)
    assert project.trades.filter(name="Concrete").exists()


def test_without_contingency_there_is_no_line(lead: User):
    assert not LineItem.objects.filter(project=start(lead)).exists()


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"name": "  "}, "name"),
        ({"name": "x" * 121}, "name"),
        ({"about": "x" * 2001}, "about"),
        ({"currency": "XXX"}, "currency"),
        ({"units": "furlongs"}, "units"),
        ({"time_zone": "Mars/Olympus"}, "time_zone"),
        ({"time_zone": "../../etc/passwd"}, "time_zone"),
        ({"locale": ""}, "locale"),
        ({"opens_on": date(1066, 10, 14)}, "opens_on"),
        ({"starts_on": date(2027, 2, 1), "opens_on": date(2027, 1, 1)}, "opens_on"),
    ],
)
def test_a_slip_is_refused_at_its_field(changes: dict[str, Any], field: str, lead: User):
    with pytest.raises(Refused) as fault:
        start(lead, replace(DRAFT, **changes))
    assert fault.value.field == field and not Project.objects.exists()


@pytest.mark.parametrize("name", ["cost_of_day_minor", "lead_limit_minor", "contingency_minor"])
def test_an_amount_below_zero_is_refused(name: str, lead: User):
    with pytest.raises(Refused, match="below zero"):
        start(lead, **{name: -1})
    assert not Project.objects.exists()


def test_a_change_bears_what_was_and_what_is(project: Project, lead: User):
    changed = edit(project, lead, opens_on=date(2027, 5, 28), name="Harbour hall 2")
    newest = project.trail.order_by("-pk")[0]
    assert (changed.version, changed.opens_on) == (2, date(2027, 5, 28))
    assert newest.details["was"] == {"name": "Harbour hall", "opens_on": None}
    assert newest.details["is"] == {"name": "Harbour hall 2", "opens_on": "2027-05-28"}


def test_the_same_settings_write_nothing(project: Project, lead: User):
    before = project.trail.count()
    assert edit(project, lead).version == 1 and project.trail.count() == before


def test_a_late_save_is_told_what_stands(project: Project, lead: User):
    edit(project, lead, name="Theirs")
    with pytest.raises(Stale) as fault:
        edit(project, lead, version=1, name="Mine")
    assert fault.value.theirs["name"] == "Theirs" and fault.value.theirs["version"] == 2
    project.refresh_from_db()
    assert project.name == "Theirs"


def test_the_currency_may_change_before_there_is_money(project: Project, lead: User):
    builds.set_limits(project, {Role.LEAD: None}, by=lead, now=NOW)
    assert edit(project, lead, currency="EUR").currency == "EUR"


def _line(project: Project, lead: User) -> None:
    builders.line(project)


def _limit(project: Project, lead: User) -> None:
    builds.set_limits(project, {Role.LEAD: 100}, by=lead, now=NOW)


def _cost(project: Project, lead: User) -> None:
    project.version = builds.set_cost_of_day(project, amount_minor=1, made_of="", by=lead, now=NOW, version=1).version


@pytest.mark.parametrize("money", [_line, _limit, _cost])
def test_the_currency_stays_once_there_is_money(money: Any, project: Project, lead: User):
    builds.set_limits(project, {Role.LEAD: None}, by=lead, now=NOW)
    money(project, lead)
    with pytest.raises(Refused, match="fixed") as fault:
        edit(project, lead, version=project.version, currency="EUR")
    assert fault.value.field == "currency"


def test_the_money_of_another_project_does_not_count(project: Project, lead: User):
    builds.set_limits(project, {Role.LEAD: None}, by=lead, now=NOW)
    builders.line(builders.project(lead, name="Elsewhere"))
    assert not builds.has_amounts(project)


def test_the_cost_of_a_day_keeps_its_words(project: Project, lead: User):
    changed = builds.set_cost_of_day(
        project, amount_minor=90_000, made_of="hire 600, site lead 300", by=lead, now=NOW, version=1
    )
    newest = project.trail.order_by("-pk")[0]
    assert (changed.cost_of_day_minor, changed.version) == (90_000, 2)
    assert newest.details == {"was_minor": 0, "is_minor": 90_000, "made_of": "hire 600, site lead 300"}


def test_a_late_cost_of_a_day_is_told(project: Project, lead: User):
    edit(project, lead, name="Theirs")
    with pytest.raises(Stale):
        builds.set_cost_of_day(project, amount_minor=1, made_of="", by=lead, now=NOW, version=1)


def test_limits_are_set_once_and_said_once(project: Project, lead: User):
    before = project.trail.count()
    for _turn in range(2):
        builds.set_limits(project, {Role.LEAD: 0, Role.OWNER: None}, by=lead, now=NOW)
    assert project.trail.count() == before + 1
    assert not limits.allows(project, Role.LEAD, 1) and limits.allows(project, Role.OWNER, 1)


@pytest.mark.parametrize(("role", "minor"), [(Role.VIEWER, 100), (Role.BOOKKEEPER, None), (Role.LEAD, -1), ("king", 5)])
def test_a_limit_that_makes_no_sense_is_refused(role: str, minor: int | None, project: Project, lead: User):
    with pytest.raises(Refused):
        builds.set_limits(project, {role: minor}, by=lead, now=NOW)


def set_tax(project: Project, by: User, version: int = 1, **draft: Any) -> Project:
    return builds.set_tax(project, builds.TaxDraft(**draft), by=by, now=NOW, version=version)


def test_tax_and_swing_are_kept_with_what_was(project: Project, lead: User):
    changed = set_tax(project, lead, tax_percent=Decimal("17.5"), tax_recovered=False)
    assert (changed.tax_percent, changed.tax_recovered, changed.version) == (Decimal("17.5"), False, 2)
    told = project.trail.filter(subject="project").latest("pk").details
    assert told == {
        "was": {"tax_percent": None, "tax_recovered": True},
        "is": {"tax_percent": "17.5", "tax_recovered": False},
    }


def test_saving_the_tax_that_stands_writes_nothing(project: Project, lead: User):
    before = project.trail.count()
    set_tax(project, lead, rate_swing_percent=Decimal("5.00"))
    assert project.trail.count() == before


@pytest.mark.parametrize("name", ["tax_percent", "rate_swing_percent"])
@pytest.mark.parametrize("value", ["NaN", "-0.01", "100.01", "Infinity", "1E+999999"])
def test_a_percentage_that_is_none_is_refused(name: str, value: str, project: Project, lead: User):
    with pytest.raises(Refused) as fault:
        set_tax(project, lead, **{name: Decimal(value)})
    assert fault.value.field == name


def test_two_who_save_the_tax_see_each_other(project: Project, lead: User):
    set_tax(project, lead, tax_percent=Decimal(20))
    with pytest.raises(Stale) as fault:
        set_tax(project, lead, tax_percent=Decimal(19))
    assert fault.value.theirs["tax_percent"] == Decimal(20)
