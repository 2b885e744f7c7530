"""Rows that every kind of sheet brings in: trades, vendors, and lines that follow their quotes, many at a time."""

from collections.abc import Mapping, Sequence

from django.db.models import Max

from budget.models import Trade, Vendor
from budget.services import levels
from budget.services.ledger import Deed, settle
from projects.models import Project

#: So many rows at a time go to the database.
AT_ONCE = 1000
LINES_AT_ONCE = 500


def add_trades(project: Project, named: Mapping[str, str]) -> None:
    """Write the trades that a sheet brings along: {code: name}."""
    last = Trade.objects.filter(project=project).aggregate(Max("position"))["position__max"] or 0
    Trade.objects.bulk_create(
        Trade(project=project, code=code, name=name, position=last + number)
        for number, (code, name) in enumerate(named.items(), start=1)
    )


def vendors(project: Project, names: Sequence[str]) -> dict[str, Vendor]:
    """The vendors of some names, in small letters; new ones are written."""
    by_key = {key_of(name): " ".join(name.split()) for name in reversed(names)}
    there = set(Vendor.objects.filter(project=project).values_list("key", flat=True))
    Vendor.objects.bulk_create(
        Vendor(project=project, key=key, name=name) for key, name in reversed(by_key.items()) if key not in there
    )
    return {vendor.key: vendor for vendor in Vendor.objects.filter(project=project)}


def key_of(name: str) -> str:
    """A vendor's name without case and spacing."""
    return " ".join(name.split()).casefold()


def follow_quotes(project: Project, line_ids: Sequence[int], deed: Deed) -> None:
    """Level the quotes of some lines and let their likely finals follow. Writes kept figures and movements."""
    for first in range(0, len(line_ids), LINES_AT_ONCE):  # long lists of ids make databases slow
        some = line_ids[first : first + LINES_AT_ONCE]
        levels.relevel(project, some, deed)
        settle(project, some, deed)
