"""A project read back from one document: all of it or nothing, and nothing that does not hold.

Every value is held against its column, every reference against the rows of the document, every record against its
seal, and at last every kept figure against its sources. The first fault names its place and ends it.
"""

import base64
import binascii
import hashlib
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal, InvalidOperation
from typing import Any, NoReturn

from django.core.files.base import ContentFile
from django.db import DatabaseError, connection, models, transaction
from django.db.models import Max
from django.utils.translation import gettext as _

from decisions.calc import sealing
from projects import uploads
from projects.faults import Refused
from projects.fields import ExactField
from projects.models import Project, User
from reports.exchange import belonging, dumping, proving, references, versions
from units.reading import shown

MOST_BYTES = 500 * 1024 * 1024
_TOP = ("files", "format", "project", "tables", "users", "version")
_PEOPLE = ("first_name", "last_name", "username")
_BIGGEST = 2**63 - 1


def _refuse(place: str, what: str) -> NoReturn:
    raise Refused(_("%(place)s: %(what)s") % {"place": place, "what": what}, field=place)


@dataclass(frozen=True, slots=True)
class _Document:
    """What is known while rows are read: how many each table has, and who is named."""

    counts: Mapping[str, int]
    people: Mapping[str, User]


@transaction.atomic
def load(data: bytes, *, slug: str = "") -> Project:
    """Read a project from a document and write it beside the others.

    Args:
        data: what `dumping.as_bytes` wrote, here or in an earlier version.
        slug: another short name for the project; "" for its own.
    Returns: the project. People are matched by their user names; those who are not known are added, and cannot sign in
        until somebody gives them a password.
    Raises: Refused, one message that names the place. Nothing is then changed, but for contents of attachments, which
        lie under their hashes and out of reach.
    """
    content = _parsed(data)
    tables = {dumping.table_name(model): model for model in belonging.tables()}
    _whole(content, tables)
    counts = {name: len(rows) for name, rows in content["tables"].items()}
    known = _Document(counts, _people(content["users"]))
    files = _files(content["files"])
    project = _project(content["project"], slug, known)
    try:
        bases = {name: _reserve(model, counts[name]) for name, model in tables.items()}
        for name, model in tables.items():
            _write(name, model, content["tables"][name], project, known, bases)
        connection.check_constraints()
    except DatabaseError as fault:
        raise Refused(
            _("The rows contradict a rule of the tables: %s") % shown(str(fault).splitlines()[0], 200)
        ) from None
    _attachments(content["tables"][dumping.table_name(dumping.Attachment)], files)
    wrong = proving.faults(project)
    if wrong:
        raise Refused(_("The figures of the document do not hold: %s") % wrong[0])
    return project


def _parsed(data: bytes) -> dict[str, Any]:
    if len(data) > MOST_BYTES:
        raise Refused(_("The document is larger than 500 MB."))
    try:
        content = json.loads(data, parse_constant=_no_constant)
    except (ValueError, RecursionError) as fault:
        raise Refused(_("This is no JSON document in UTF-8: %s") % shown(str(fault), 120)) from None
    if not isinstance(content, dict) or content.get("format") != dumping.FORMAT:
        raise Refused(_("This is no document of a project; it has to name the format “%s”.") % dumping.FORMAT)
    version = content.get("version")
    if not versions.can_be_read(version):
        raise Refused(
            _("version: %(given)s cannot be read here; %(known)s and before can.")
            % {"given": shown(str(version), 20), "known": dumping.VERSION}
        )
    return versions.brought_up(content)


def _no_constant(word: str) -> NoReturn:
    raise ValueError(f"{word} is no number")


def _whole(content: Mapping[str, Any], tables: Mapping[str, type[models.Model]]) -> None:
    """Every part is there, no part is unknown, and each is of the right shape."""
    _keys("document", content, _TOP)
    for name, kind in (("project", dict), ("tables", dict), ("users", list), ("files", dict)):
        if not isinstance(content[name], kind):
            _refuse(name, _("an object is needed here") if kind is dict else _("a list is needed here"))
    _keys("tables", content["tables"], tables)
    for name, rows in content["tables"].items():
        if not isinstance(rows, list):
            _refuse(name, _("a list is needed here"))
        for place, row in enumerate(rows):
            if not isinstance(row, dict):
                _refuse(f"{name}[{place}]", _("an object is needed here"))


def _keys(place: str, given: Mapping[str, Any], wanted: Any) -> None:
    for name in given:
        if name not in wanted:
            _refuse(f"{place}.{shown(name)}", _("this name is not known"))
    for name in wanted:
        if name not in given:
            _refuse(f"{place}.{name}", _("this is missing"))


def _people(listed: Sequence[Any]) -> dict[str, User]:
    found: dict[str, User] = {}
    for place, row in enumerate(listed):
        if not isinstance(row, dict):
            _refuse(f"users[{place}]", _("an object is needed here"))
        _keys(f"users[{place}]", row, _PEOPLE)
        for name in _PEOPLE:
            _value(User._meta.get_field(name), row[name], f"users[{place}].{name}")
        if row["username"] in found or not row["username"]:
            _refuse(f"users[{place}].username", _("a user name of one's own is needed"))
        found[row["username"]] = _person(row)
    return found


def _person(row: Mapping[str, str]) -> User:
    user = User.objects.filter(username=row["username"]).first()
    if user is None:
        user = User(**row)
        user.set_unusable_password()
        user.save()
    return user


def _project(row: Mapping[str, Any], slug: str, known: _Document) -> Project:
    fields = {field.name: field for field in Project._meta.concrete_fields if not field.primary_key}
    _keys("project", row, fields)
    values = {name: _value(field, row[name], f"project.{name}") for name, field in fields.items()}
    values["slug"] = slug or values["slug"]
    if not re.fullmatch(r"[-a-z0-9_]{1,60}", values["slug"], re.IGNORECASE):
        _refuse("project.slug", _("a short name has letters, digits and hyphens, 60 at most"))
    if Project.objects.filter(slug=values["slug"]).exists():
        _refuse(
            "project.slug", _("there is a project %s already; give another short name with --slug") % values["slug"]
        )
    return Project.objects.create(**values)


def _reserve(model: type[models.Model], count: int) -> int:
    """Keep room for some rows, so that they are numbered in a row. Returns: the number before the first."""
    last: int = model._default_manager.aggregate(Max("pk"))["pk__max"] or 0
    if connection.vendor != "postgresql":
        return last  # SQLite has one writer, which is this transaction
    table, column = model._meta.db_table, model._meta.pk.column
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_get_serial_sequence(%s, %s)", [f'"{table}"', column])
        sequence = cursor.fetchone()[0]
        cursor.execute(f"SELECT last_value FROM {sequence}")  # noqa: S608  # a name the database itself gave
        base = max(last, cursor.fetchone()[0])
        cursor.execute("SELECT setval(%s, %s)", [sequence, base + count + 1])
    return int(base)


def _write(
    name: str, model: type[models.Model], rows: Sequence[dict[str, Any]], project: Project, known: _Document, bases: Mapping[str, int]
) -> None:  # fmt: skip
    many = {field.name: field for field in model._meta.many_to_many if dumping.is_plain(field)}
    made, links = [], []
    for place, row in enumerate(rows):
        at = f"{name}[{place}]"
        _keys(at, row, _names(model, many))
        _sealed(name, row, at)
        values = _columns(model, row, at, project, known, bases)
        values |= _renumbered(name, row, at, _renumber(at, known, bases, project))
        made.append(model(pk=bases[name] + place + 1, **values))
        links.append(
            {column: _linked(field, row[column], f"{at}.{column}", known, bases) for column, field in many.items()}
        )
    model._default_manager.bulk_create(made, batch_size=500)
    for column, field in many.items():
        _link(field, [(one.pk, linked[column]) for one, linked in zip(made, links, strict=True)])


def _renumbered(name: str, row: dict[str, Any], at: str, renumber: references.Renumber) -> dict[str, Any]:
    """The columns with loose references, which now number the rows of this database."""
    try:
        found = references.renumbered_columns(name, row, renumber)
    except (AttributeError, KeyError, TypeError, ValueError):
        _refuse(at, _("its frozen content or details have another shape than this version writes"))
    return {column: value for column, value in found.items() if value is not row[column]}


def _names(model: type[models.Model], many: Mapping[str, Any]) -> list[str]:
    secret = dumping.SECRET.get(dumping.table_name(model), {})
    return [
        field.name
        for field in model._meta.concrete_fields
        if not field.primary_key and field.name not in secret and field.related_model is not Project
    ] + list(many)


#: Tables whose rows are sealed: the column with the content, a JSON object as text.
SEALED = {"decisions.record": "frozen", "reports.issuedreport": "content"}
#: What the frozen content of a record is made of.
FROZEN = {
    "choice": dict, "results": dict, "prices": dict, "own_forecasts": dict, "lines": list, "options": list, "flips": list,
}  # fmt: skip


def _sealed(name: str, row: Mapping[str, Any], at: str) -> None:
    """A sealed row is as it was sealed, and its content can be read."""
    if name not in SEALED:
        return
    text = row.get(SEALED[name])
    try:
        content = json.loads(text) if isinstance(text, str) else None
    except (ValueError, RecursionError):
        content = None
    if not isinstance(text, str) or not isinstance(content, dict):
        _refuse(f"{at}.{SEALED[name]}", _("a JSON object as text is needed here"))
    if sealing.hash_of(text) != row.get("sha256"):
        _refuse(f"{at}.sha256", _("the seal does not fit the content; it was altered"))
    shape = FROZEN if name == "decisions.record" else {}
    if any(not isinstance(content.get(part), kind) for part, kind in shape.items()):
        _refuse(at, _("its frozen content has another shape than this version writes"))


def _renumber(at: str, known: _Document, bases: Mapping[str, int], project: Project) -> references.Renumber:
    def renumber(table: str, number: int) -> int | None:
        if table == dumping.table_name(Project):
            return project.pk
        if not 1 <= number <= known.counts.get(table, 0):
            _refuse(at, _("row %(number)d of %(table)s is named and is not there") % {"number": number, "table": table})
        return bases[table] + number

    return renumber


def _columns(
    model: type[models.Model], row: Mapping[str, Any], at: str, project: Project, known: _Document, bases: Mapping[str, int]
) -> dict[str, Any]:  # fmt: skip
    values: dict[str, Any] = {}
    secret = dumping.SECRET.get(dumping.table_name(model), {})
    for field in model._meta.concrete_fields:
        if field.primary_key:
            continue
        if field.name in secret:
            values[field.name] = _dead_secret(model, at, project)
        elif field.related_model is Project:
            values[field.attname] = project.pk
        elif isinstance(field, models.ForeignKey):
            values[field.attname] = _tied(field, row[field.name], f"{at}.{field.name}", known, bases)
        else:
            values[field.name] = _value(field, row[field.name], f"{at}.{field.name}")
    return values


def _dead_secret(model: type[models.Model], at: str, project: Project) -> str:
    """Something in the place of a secret that no secret leads to."""
    return hashlib.sha256(f"{model._meta.label} {project.pk} {at}: no secret has this hash".encode()).hexdigest()


def _tied(field: models.ForeignKey, value: Any, at: str, known: _Document, bases: Mapping[str, int]) -> int | None:
    if value is None:
        if not field.null:
            _refuse(at, _("this is missing"))
        return None
    there = belonging.target(field)
    if there is User:
        if not isinstance(value, str) or value not in known.people:
            _refuse(at, _("nobody of this user name is among the users of the document"))
        return known.people[value].pk
    return _number(value, at, dumping.table_name(there), known, bases)


def _number(value: Any, at: str, table: str, known: _Document, bases: Mapping[str, int]) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= known.counts.get(table, 0):
        _refuse(
            at,
            _("row %(number)s of %(table)s is named and is not there")
            % {"number": shown(str(value), 20), "table": table},
        )
    return bases[table] + int(value)


def _linked(
    field: models.ManyToManyField, value: Any, at: str, known: _Document, bases: Mapping[str, int]
) -> list[int]:
    if not isinstance(value, list):
        _refuse(at, _("a list is needed here"))
    table = dumping.table_name(field.related_model)  # type: ignore[arg-type]
    return [_number(number, f"{at}[{place}]", table, known, bases) for place, number in enumerate(value)]


def _link(field: models.ManyToManyField, pairs: Sequence[tuple[int, list[int]]]) -> None:
    through = field.remote_field.through
    own, there = field.m2m_field_name(), field.m2m_reverse_field_name()
    through._default_manager.bulk_create(  # type: ignore[union-attr]
        [through(**{f"{own}_id": here, f"{there}_id": other}) for here, others in pairs for other in others],  # type: ignore[misc]
        batch_size=500,
    )


# --- Values ---------------------------------------------------------------------------------------------------------


def _value(field: Any, value: Any, at: str) -> Any:
    """Read one value for its column. Raises: Refused, naming the place."""
    if value is None:
        if not field.null:
            _refuse(at, _("this is missing"))
        return None
    if isinstance(field, ExactField):
        return _exact(value, at)
    if isinstance(field, models.JSONField):
        return value
    if isinstance(field, models.BooleanField):
        return value if isinstance(value, bool) else _refuse(at, _("true or false is needed here"))
    if isinstance(field, models.IntegerField):
        return _integer(field, value, at)
    if isinstance(field, models.DateTimeField):
        return _instant(value, at)
    if isinstance(field, models.DateField):
        return _day(value, at)
    return _text(field, value, at)


def _exact(value: Any, at: str) -> Decimal:
    try:
        number = Decimal(value) if isinstance(value, str) and len(value) <= 32 else None
    except InvalidOperation:
        number = None
    if number is None or not number.is_finite():
        _refuse(at, _("a number as text is needed here"))
    return number


def _integer(field: models.IntegerField, value: Any, at: str) -> int:
    lowest = 0 if isinstance(field, models.PositiveIntegerField) else -_BIGGEST
    highest = 2**31 - 1 if isinstance(field, models.PositiveIntegerField) else _BIGGEST
    if isinstance(value, bool) or not isinstance(value, int) or not lowest <= value <= highest:
        _refuse(at, _("a whole number is needed here"))
    return value


def _instant(value: Any, at: str) -> datetime:
    try:
        found = datetime.fromisoformat(value).astimezone(UTC) if isinstance(value, str) and len(value) > 10 else None
    except (ValueError, OverflowError):
        found = None
    if found is None or datetime.fromisoformat(value).tzinfo is None:
        _refuse(at, _("an instant with its time zone is needed here, as in 2027-01-29T09:00:00+00:00"))
    return found


def _day(value: Any, at: str) -> date:
    try:
        return date.fromisoformat(value if isinstance(value, str) and len(value) == 10 else "")
    except ValueError:
        _refuse(at, _("a date is needed here, as in 2027-01-29"))


def _text(field: models.Field, value: Any, at: str) -> str:
    if not isinstance(value, str) or "\x00" in value:
        _refuse(at, _("a text is needed here"))
    if field.max_length is not None and len(value) > field.max_length:
        _refuse(at, _("the text is longer than %d letters") % field.max_length)
    if not value and not field.blank:
        _refuse(at, _("this is empty"))
    choices = {key for key, _label in field.flatchoices}
    if choices and value not in choices and not (field.blank and not value):
        _refuse(at, _("this is none of: %s") % ", ".join(sorted(map(str, choices))))
    return value


# --- Attachments ----------------------------------------------------------------------------------------------------


def _files(given: Mapping[str, Any]) -> dict[str, bytes]:
    found = {}
    for sha256, text in given.items():
        at = f"files.{shown(sha256, 12)}"
        try:
            data = base64.b64decode(text if isinstance(text, str) else "*", validate=True)
        except (binascii.Error, ValueError):
            _refuse(at, _("the content is needed here as base64"))
        if hashlib.sha256(data).hexdigest() != sha256:
            _refuse(at, _("the content does not fit its hash"))
        found[sha256] = data
    return found


def _attachments(rows: Sequence[Mapping[str, Any]], files: Mapping[str, bytes]) -> None:
    """Keep the content of every attachment; it is looked at as if somebody had just sent it."""
    for place, row in enumerate(rows):
        at = f"projects.attachment[{place}]"
        if row["sha256"] not in files:
            _refuse(at, _("the content of this attachment is missing"))
        kept = uploads.keep(ContentFile(files[row["sha256"]], name=row["name"]))
        if (kept.sha256, kept.kind, kept.size) != (row["sha256"], row["kind"], row["size"]):
            _refuse(at, _("kind or size do not fit the content"))
