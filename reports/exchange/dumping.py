"""A whole project as one document.

Rows are numbered from 1 in the order they were written, table by table, and people go by their user names, so the same
project gives the same bytes whichever database it lies in. What would let anybody in (passwords, the secrets of
invitations) stays out.
"""

import base64
import json
from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any, BinaryIO

from django.db import models
from django.utils.translation import gettext as _

from projects import uploads
from projects.faults import Refused
from projects.fields import as_plain_text
from projects.models import Attachment, Project, User
from reports.exchange import belonging, references

FORMAT = "batterboard project"
#: Raised with every table or column that is added; `versions` says what an older document lacks.
VERSION = 3
#: Columns that stay out of a document, and the reason.
SECRET = {
    "projects.invitation": {"secret_hash": "whoever knows the secret is let in"},
    "reports.ownerslink": {"secret_hash": "whoever knows the secret sees the figures"},
}

Numbers = Mapping[str, Mapping[int, int]]


def table_name(model: type[models.Model]) -> str:
    return model._meta.label_lower


def document(project: Project) -> dict[str, Any]:
    """Write a project as plain JSON values.

    Raises: Refused where the content of an attachment is not there any more.
    Queries: one a table, and one more for each many-to-many.
    """
    found = {model: list(belonging.rows(project, model)) for model in belonging.tables()}
    numbers: dict[str, dict[int, int]] = {
        table_name(model): {row.pk: place for place, row in enumerate(rows, start=1)} for model, rows in found.items()
    }
    numbers[table_name(Project)] = {project.pk: 1}
    people = _people(found)
    return {
        "format": FORMAT,
        "version": VERSION,
        "project": _columns(project, numbers, people),
        "users": [
            {"username": u.username, "first_name": u.first_name, "last_name": u.last_name} for u in people.values()
        ],
        "tables": {table_name(model): _rows(model, rows, numbers, people) for model, rows in found.items()},
        "files": _files(found[Attachment]),
    }


def as_bytes(project: Project) -> bytes:
    """Write a project as the bytes of a file: JSON in UTF-8, a row a line, the same for the same project."""
    content = document(project)
    tables = content.pop("tables")
    files = content.pop("files")
    lines = [json.dumps(content, ensure_ascii=False, sort_keys=True)[:-1] + ', "tables": {']
    last = list(tables)[-1]
    for name, rows in tables.items():
        lines.append(f"{json.dumps(name)}: [")
        lines += [_line(row) + ("," if row is not rows[-1] else "") for row in rows]
        lines.append("]" if name == last else "],")
    lines.append('}, "files": {')
    names = sorted(files)
    lines += [f'"{name}": "{files[name]}"' + ("," if name != names[-1] else "") for name in names]
    return ("\n".join([*lines, "}}"]) + "\n").encode()


def _line(row: Mapping[str, Any]) -> str:
    return json.dumps(row, ensure_ascii=False, sort_keys=True)


def write(project: Project, out: BinaryIO) -> None:
    out.write(as_bytes(project))


def _people(found: Mapping[type[models.Model], list[models.Model]]) -> dict[int, User]:
    """Everybody that a row of the project names, by user name."""
    ids = {
        value
        for model, rows in found.items()
        for field in belonging.ties(model)
        if belonging.target(field) is User
        for row in rows
        if (value := getattr(row, field.attname)) is not None
    }
    return {user.pk: user for user in sorted(User.objects.filter(pk__in=ids), key=lambda user: user.username)}


def _rows(
    model: type[models.Model], rows: list[models.Model], numbers: Numbers, people: Mapping[int, User]
) -> list[dict[str, Any]]:
    many = {field.name: _many(field, rows, numbers) for field in model._meta.many_to_many if is_plain(field)}
    found = []
    for row in rows:
        columns = _columns(row, numbers, people)
        columns |= {name: links.get(row.pk, []) for name, links in many.items()}
        found.append(
            references.renumbered_columns(table_name(model), columns, lambda table, pk: numbers[table].get(pk))
        )
    return found


def is_plain(field: models.ManyToManyField) -> bool:
    """True where the links are a table of Django's own making; one of ours is a table among the others."""
    through = field.remote_field.through
    return bool(through and through._meta.auto_created)


def _many(field: models.ManyToManyField, rows: list[models.Model], numbers: Numbers) -> dict[int, list[int]]:
    own, there = field.m2m_field_name(), field.m2m_reverse_field_name()
    numbered = numbers[table_name(field.related_model)]  # type: ignore[arg-type]
    links: dict[int, list[int]] = {}
    table = field.remote_field.through._default_manager  # type: ignore[union-attr]
    for here, other in table.filter(**{f"{own}__in": [row.pk for row in rows]}).values_list(f"{own}_id", f"{there}_id"):
        links.setdefault(here, []).append(numbered[other])
    return {here: sorted(others) for here, others in links.items()}


def _columns(row: models.Model, numbers: Numbers, people: Mapping[int, User]) -> dict[str, Any]:
    """The columns of one row; its own number and its project go without saying."""
    left_out = SECRET.get(table_name(type(row)), {})
    found = {}
    for field in row._meta.concrete_fields:
        if (
            field.primary_key
            or field.name in left_out
            or (isinstance(field, models.ForeignKey) and field.related_model is Project)
        ):
            continue
        value = getattr(row, field.attname)
        if isinstance(field, models.ForeignKey) and value is not None:
            there = belonging.target(field)
            value = people[value].username if there is User else numbers[table_name(there)].get(value)
            if value is None:
                raise Refused(
                    _("A row of %s points out of the project; the project cannot be written.") % table_name(type(row))
                )
        found[field.name] = plain(value)
    return found


def plain(value: Any) -> Any:
    """A value of a column as JSON has it: dates as ISO 8601, instants in UTC, exact numbers as text."""
    if isinstance(value, datetime):
        from datetime import UTC

        return value.astimezone(UTC).isoformat()
    if isinstance(value, date):
        return value.isoformat()
    return as_plain_text(value) if isinstance(value, Decimal) else value


def _files(attachments: list[Any]) -> dict[str, str]:
    """The content of every attachment, by its hash."""
    found = {}
    for sha256 in sorted({row.sha256 for row in attachments}):
        try:
            found[sha256] = base64.b64encode(uploads.path_of(sha256).read_bytes()).decode()
        except OSError as fault:
            raise Refused(_("The content of the attachment %s is missing from this machine.") % sha256[:12]) from fault
    return found
