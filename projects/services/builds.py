"""Starting a project and keeping its settings."""

import secrets
from dataclasses import asdict, dataclass
from datetime import date, datetime
from decimal import Decimal
from functools import cache
from typing import Any
from zoneinfo import available_timezones

from django.apps import apps
from django.db import models, transaction
from django.utils.text import slugify
from django.utils.translation import gettext as _

from projects import signals, trail
from projects.bounds import amount_within_bounds, columns_within_bounds, date_within_bounds, share_within_bounds
from projects.faults import Refused, Stale
from projects.fields import as_plain_text
from projects.models import ApprovalLimit, Membership, Project, Role, Units, User
from projects.services.locks import lock
from units.money import CURRENCIES

#: No vowels and nothing that looks like another letter, so that a web address spells no word and can be read out.
_ALPHABET = "bcdfghjkmnpqrstvwxz23456789"
_SUFFIX_LENGTH = 5
LIMITED_ROLES = (Role.LEAD, Role.OWNER)


@dataclass(frozen=True, slots=True)
class ProjectDraft:
    """A project's settings as somebody enters them; amounts in minor units of `currency`."""

    name: str
    currency: str
    about: str = ""
    units: str = Units.METRIC
    locale: str = "en-GB"
    time_zone: str = "UTC"
    starts_on: date | None = None
    opens_on: date | None = None


@transaction.atomic
def create_project(
    draft: ProjectDraft,
    *,
    by: User,
    now: datetime,
    today: date,
    cost_of_day_minor: int = 0,
    lead_limit_minor: int | None = None,
    contingency_minor: int | None = None,
) -> Project:
    """Start a project with its first lead.

    Args:
        lead_limit_minor: up to how much the lead may commit without an owner; None is any amount.
        contingency_minor: what is set aside; the apps above lay it out.
    Writes Project, Membership, ApprovalLimit rows and a trail row. Not safe to repeat: each call is a further project.
    Raises: Refused, naming the field.
    """
    checked = _checked(draft)
    _checked_amounts(
        draft.currency, cost_of_day=cost_of_day_minor, lead_limit=lead_limit_minor, contingency=contingency_minor
    )
    project = Project.objects.create(
        slug=_free_slug(checked["name"]), cost_of_day_minor=cost_of_day_minor, created_at=now, **checked
    )
    Membership.objects.create(project=project, user=by, role=Role.LEAD, joined_at=now)
    ApprovalLimit.objects.create(project=project, role=Role.LEAD, amount_minor=lead_limit_minor)
    ApprovalLimit.objects.create(project=project, role=Role.OWNER, amount_minor=None)
    trail.note(
        project, by=by, at=now, verb="started", subject="project", subject_id=project.pk,
        summary=_("Started the project %s") % project.name, details=_plain(checked),
    )  # fmt: skip
    signals.project_started.send(
        sender=Project, project=project, by=by, now=now, today=today, contingency_minor=contingency_minor
    )
    return project


def _free_slug(name: str) -> str:
    """A web address that tells nobody whether another project has the same name."""
    stem = slugify(name)[: 60 - _SUFFIX_LENGTH - 1].strip("-") or "build"
    while True:
        slug = f"{stem}-{''.join(secrets.choice(_ALPHABET) for _turn in range(_SUFFIX_LENGTH))}"
        if not Project.objects.filter(slug=slug).exists():
            return slug


@cache
def time_zones() -> frozenset[str]:
    """The time zones of this machine's table, places only."""
    return frozenset(zone for zone in available_timezones() if "/" in zone or zone == "UTC")


def _checked(draft: ProjectDraft) -> dict[str, Any]:
    """The draft's columns, with every slip refused at its field."""
    name, about = draft.name.strip(), draft.about.strip()
    if not name:
        raise Refused(_("A project needs a name."), field="name")
    if len(name) > 120:
        raise Refused(_("A name has at most 120 letters."), field="name")
    if len(about) > 2000:
        raise Refused(_("At most 2,000 letters are kept here."), field="about")
    if draft.currency not in CURRENCIES:
        raise Refused(_("This is no currency code; give one like GBP."), field="currency")
    if draft.units not in Units.values:
        raise Refused(_("Choose metric or US customary units."), field="units")
    if draft.time_zone not in time_zones():
        raise Refused(_("This time zone is not known; choose one from the list."), field="time_zone")
    if not draft.locale or len(draft.locale) > 12:
        raise Refused(_("Choose how figures and dates are written."), field="locale")
    _checked_dates(draft)
    return asdict(draft) | {"name": name, "about": about}


def _checked_dates(draft: ProjectDraft) -> None:
    date_within_bounds(draft.starts_on, field="starts_on")
    date_within_bounds(draft.opens_on, field="opens_on")
    if draft.starts_on and draft.opens_on and draft.opens_on < draft.starts_on:
        raise Refused(_("The opening lies before the start; mend one of the two dates."), field="opens_on")


def _checked_amounts(currency: str, **amounts: int | None) -> None:
    for field, minor in amounts.items():
        if minor is not None:
            amount_within_bounds(minor, currency, field=field)


def _plain(columns: dict[str, Any]) -> dict[str, Any]:
    """Values that JSON holds."""
    return {name: _as_json(value) for name, value in columns.items()}


def _as_json(value: Any) -> Any:
    if isinstance(value, Decimal):
        return as_plain_text(value)
    return value.isoformat() if isinstance(value, date) else value


@transaction.atomic
def edit_project(project: Project, draft: ProjectDraft, *, by: User, now: datetime, version: int) -> Project:
    """Change a project's settings.

    Writes the Project row and, when something changed, a trail row that holds what was and what is. Safe to repeat
    with the version that came back.
    Raises: Stale with what stands, Refused naming the field; the currency is fixed once an amount is recorded.
    """
    held = lock(project)
    columns = _checked(draft)
    _must_be_newest(held, version, columns)
    changed = {name: value for name, value in columns.items() if getattr(held, name) != value}
    if not changed:
        return held
    if "currency" in changed and has_amounts(held):
        raise Refused(
            _("The currency is fixed once an amount is recorded; start another project for another currency."),
            field="currency",
        )
    was = {name: getattr(held, name) for name in changed}
    _write(held, changed)
    trail.note(
        project, by=by, at=now, verb="changed", subject="project", subject_id=project.pk,
        summary=_("Changed the settings: %s") % ", ".join(_called(name) for name in changed),
        details={"was": _plain(was), "is": _plain(changed)},
    )  # fmt: skip
    return held


def _must_be_newest(held: Project, version: int, columns: dict[str, Any]) -> None:
    if held.version != version:
        theirs = {name: getattr(held, name) for name in columns} | {"version": held.version}
        raise Stale(
            _("Somebody else saved these settings while you were editing; look at what stands now and save again."),
            theirs=theirs,
        )


def _called(column: str) -> str:
    """What a setting is called on the page."""
    return {
        "name": _("name"),
        "about": _("what is built"),
        "currency": _("currency"),
        "units": _("units"),
        "locale": _("how figures are written"),
        "time_zone": _("time zone"),
        "starts_on": _("start"),
        "opens_on": _("opening"),
        "tax_percent": _("tax"),
        "tax_recovered": _("whether tax comes back"),
        "rate_swing_percent": _("how far exchange rates may move"),
    }[column]


def _write(held: Project, changed: dict[str, Any]) -> None:
    for name, value in changed.items():
        setattr(held, name, value)
    held.version += 1
    held.save(update_fields=[*changed, "version"])


def has_amounts(project: Project) -> bool:
    """Tell whether any row of the project holds an amount of its currency: then the currency stays.

    One query a table at most. Looks at every table that is tied to the project and has columns of minor units, so that
    a table of an app above is seen without being named here.
    """
    if project.cost_of_day_minor or project.rates.exists():
        return True
    return any(_holds_amounts(model, name, project) for model, name in _tables_with_amounts())


@cache
def _tables_with_amounts() -> tuple[tuple[type[models.Model], str], ...]:
    """Each table with minor units, and the path from it to its project."""
    found = []
    for model in apps.get_models():
        ties = [field.name for field in model._meta.fields if getattr(field, "related_model", None) is Project]
        if ties and _amount_columns(model):
            found.append((model, ties[0]))
    return tuple(found)


def _amount_columns(model: type[models.Model]) -> list[str]:
    return [field.name for field in model._meta.fields if field.name.endswith("_minor")]


def _holds_amounts(model: type[models.Model], tie: str, project: Project) -> bool:
    any_amount = models.Q()
    for column in _amount_columns(model):
        any_amount |= models.Q(**{f"{column}__isnull": False}) & ~models.Q(**{column: 0})
    return model._default_manager.filter(any_amount, **{tie: project}).exists()


@transaction.atomic
def set_cost_of_day(
    project: Project, *, amount_minor: int, made_of: str, by: User, now: datetime, version: int
) -> Project:
    """Say what one calendar day of later opening costs, and what it is made of.

    Writes the Project row and a trail row that keeps the words. Safe to repeat: the same amount and words write nothing.
    Raises: Stale, Refused.
    """
    held = lock(project)
    amount_within_bounds(amount_minor, held.currency, field="cost_of_day")
    if len(made_of) > 300:
        raise Refused(_("At most 300 letters are kept here."), field="made_of")
    _must_be_newest(held, version, {"cost_of_day_minor": amount_minor})
    was = held.cost_of_day_minor
    if was == amount_minor and not made_of.strip():
        return held
    _write(held, {"cost_of_day_minor": amount_minor})
    trail.note(
        project, by=by, at=now, verb="changed", subject="cost of a day", subject_id=project.pk,
        summary=_("Set what a day of later opening costs") + (f": {made_of.strip()}" if made_of.strip() else ""),
        details={"was_minor": was, "is_minor": amount_minor, "made_of": made_of.strip()},
    )  # fmt: skip
    return held


@dataclass(frozen=True, slots=True)
class TaxDraft:
    """How the project reckons with tax and exchange rates."""

    tax_percent: Decimal | None = None
    tax_recovered: bool = True
    rate_swing_percent: Decimal = Decimal(5)


@transaction.atomic
def set_tax(project: Project, draft: TaxDraft, *, by: User, now: datetime, version: int) -> Project:
    """Say which tax invoices usually bear, whether it comes back, and how far exchange rates may still move.

    Invoices that are entered already keep the tax they were entered with. Writes the Project row and, when something
    changed, a trail row that holds what was and what is. Safe to repeat with the version that came back.
    Raises: Stale with what stands, Refused naming the field.
    """
    held = lock(project)
    columns = _checked_tax(draft)
    _must_be_newest(held, version, columns)
    changed = {name: value for name, value in columns.items() if getattr(held, name) != value}
    if not changed:
        return held
    was = {name: getattr(held, name) for name in changed}
    columns_within_bounds(Project(**changed))
    _write(held, changed)
    trail.note(
        project, by=by, at=now, verb="changed", subject="project", subject_id=project.pk,
        summary=_("Changed the settings: %s") % ", ".join(_called(name) for name in changed),
        details={"was": _plain(was), "is": _plain(changed)},
    )  # fmt: skip
    return held


def _checked_tax(draft: TaxDraft) -> dict[str, Any]:
    message = _("A percentage lies between 0 and 100.")
    for name in ("tax_percent", "rate_swing_percent"):
        share_within_bounds(getattr(draft, name), field=name, message=message)
    return asdict(draft)


@transaction.atomic
def set_limits(project: Project, limits: dict[str, int | None], *, by: User, now: datetime) -> None:
    """Say up to how much a role may commit the project in one go; None is any amount, 0 is nothing.

    Writes ApprovalLimit rows and, when one changed, a trail row. Safe to repeat.
    Raises: Refused, naming the role as the field.
    """
    held = lock(project)
    standing = {row.role: row.amount_minor for row in ApprovalLimit.objects.filter(project=held)}
    changed = {role: minor for role, minor in limits.items() if role not in standing or standing[role] != minor}
    for role, minor in changed.items():
        if role not in LIMITED_ROLES:
            raise Refused(_("Only a lead and an owner commit the project."), field=role)
        _checked_amounts(held.currency, **{role: minor})
        ApprovalLimit.objects.update_or_create(project=held, role=role, defaults={"amount_minor": minor})
    if changed:
        was = {role: standing.get(role, 0) for role in changed}
        trail.note(
            held, by=by, at=now, verb="changed", subject="limits", subject_id=held.pk,
            summary=_("Changed how much a role may commit: %s") % ", ".join(str(Role(role).label) for role in changed),
            details={"was_minor": was, "is_minor": changed},
        )  # fmt: skip
