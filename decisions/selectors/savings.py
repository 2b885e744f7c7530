"""The savings book in sums: what was bought, realised and eaten.

One reading, so that no two pages tell two sums. Only the same function for less is called saved; cuts keep money, too,
and are named for what they are; what eats into it is listed by cause; the rest is shown and never added.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from decisions.calc import savings_book
from decisions.models import BookEntry
from decisions.selectors import book_entries
from decisions.selectors.book_entries import Entry
from projects.models import Project


@dataclass(frozen=True, slots=True)
class KindSum:
    """What the entries of a kind come to, and what of it has come true [project minor units]."""

    kind: str
    label: str
    amount_minor: int
    realised_minor: int


@dataclass(frozen=True, slots=True)
class SavingsBook:
    """Sums [project minor units]: above zero for saved, below for eaten.

    `counted_minor` is what was saved against the original quotes, `counted` how it came about; `kept` is what cuts kept,
    `eaten` what ate into it; `net_minor` is all of these. `beside` is never added. `by_decisions_minor` is what decisions
    saved less what they cost extra.
    """

    counted_minor: int
    realised_minor: int
    eaten_minor: int
    net_minor: int
    by_decisions_minor: int
    counted: tuple[KindSum, ...]
    kept: tuple[KindSum, ...]
    eaten: tuple[KindSum, ...]
    beside: tuple[KindSum, ...]


def book(project: Project) -> SavingsBook:
    """Add up the book of a project. Waiting, declined and reopened decisions, and ideas, are left out.

    Queries: 8, and up to 4 more where something is let in another currency.
    """
    return summed(book_entries.read(project).standing)


def of_decisions(project: Project) -> SavingsBook:
    """Add up what the decisions in force saved, as promised; what ate into it since is the whole book's. Queries: 3."""
    return summed(book_entries.of_decisions(project))


def summed(entries: Sequence[Entry]) -> SavingsBook:
    """Add up some entries."""
    seen = savings_book.totals(entry.part for entry in entries)
    return SavingsBook(
        counted_minor=seen.bought_minor,
        realised_minor=seen.realised_minor,
        eaten_minor=seen.eaten_minor,
        net_minor=seen.net_minor,
        by_decisions_minor=sum(entry.amount_minor for entry in entries if _of_a_decision(entry)),
        counted=_how(entries),
        kept=_kinds(seen, savings_book.KEPT),
        eaten=_eaten(entries),
        beside=_kinds(seen, savings_book.NOT_COUNTED),
    )


def _of_a_decision(entry: Entry) -> bool:
    own = entry.own is not None or entry.change is not None
    return not own and entry.kind in (savings_book.SAME_FOR_LESS, savings_book.EXTRA)


def _how(entries: Iterable[Entry]) -> tuple[KindSum, ...]:
    """What was bought, by how it came about: decisions first, then own entries in the order of their list."""
    sums: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    for entry in entries:
        if entry.kind == savings_book.SAME_FOR_LESS:
            how = (entry.own.how or "own") if entry.own else "decision"
            sums[how][0] += entry.amount_minor
            sums[how][1] += entry.realised_minor
    ways = {how.value: str(how.label) for how in BookEntry.How}
    labels = {"decision": _("decisions")} | ways | {"own": _("lines let without a decision")}
    return tuple(KindSum(how, label, *sums[how]) for how, label in labels.items() if how in sums)


def _eaten(entries: Iterable[Entry]) -> tuple[KindSum, ...]:
    """What ate into it, by cause: overages by the reason of their changes, the rest by kind."""
    sums: dict[tuple[str, str], list[int]] = defaultdict(lambda: [0, 0])
    for entry in entries:
        if entry.kind in savings_book.EATS:
            by = sums[entry.kind, entry.cause_told]
            by[0] += entry.amount_minor
            by[1] += entry.realised_minor
    order = sorted(sums, key=lambda key: savings_book.EATS.index(key[0]))
    return tuple(KindSum(kind, label, *sums[kind, label]) for kind, label in order)


def _kinds(seen: savings_book.Totals, kinds: Iterable[str]) -> tuple[KindSum, ...]:
    parts = (seen.by_kind[kind] for kind in kinds if kind in seen.by_kind)
    return tuple(
        KindSum(part.kind, str(book_entries.LABELS[part.kind]), part.amount_minor, part.realised_minor)
        for part in parts
        if part.amount_minor or part.realised_minor
    )
