"""The page of the savings book: what counts by decision and line, what stands beside, ideas, and the proof."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from budget.models import LineItem
from decisions.calc import savings_book
from decisions.models import Decision
from decisions.selectors import book_entries, savings, savings_proofs
from decisions.selectors.book_entries import Book, Entry
from projects.models import Project


@dataclass(frozen=True, slots=True)
class Row:
    """What was saved, or cost extra, in one decision or on one line, and what ate into it [project minor units]."""

    name: str
    decision: Decision | None
    line: LineItem | None
    state: str
    promised_minor: int
    realised_minor: int
    eaten_minor: int
    left_minor: int
    entries: tuple[Entry, ...]

    @property
    def bought(self) -> list[Entry]:
        return [entry for entry in self.entries if entry.kind not in savings_book.EATS]

    @property
    def costs(self) -> bool:
        """Nothing was saved here; something came on top."""
        return not self.bought

    @property
    def eaten(self) -> list[Entry]:
        return [entry for entry in self.entries if entry.kind in savings_book.EATS]


@dataclass(frozen=True, slots=True)
class Named:
    """An entry with the decision and the lines that it stands on."""

    entry: Entry
    decision: Decision | None
    lines: tuple[LineItem, ...]


@dataclass(frozen=True, slots=True)
class SavingsPage:
    """The whole book: sums, counted entries by decision and line, what stands beside, ideas, proofs."""

    book: savings.SavingsBook
    rows: tuple[Row, ...]
    beside: tuple[Named, ...]
    ideas: tuple[Named, ...]
    proofs: tuple[savings_proofs.LineProof, ...]
    may_eat_minor: int

    @property
    def promised_minor(self) -> int:
        """What was saved and what cuts kept."""
        return self.book.counted_minor + sum(part.amount_minor for part in self.book.kept)

    @property
    def come_true_minor(self) -> int:
        return self.book.realised_minor + sum(part.realised_minor for part in self.book.kept)

    @property
    def explained(self) -> int:
        return sum(row.holds for row in self.proofs)

    @property
    def unexplained(self) -> list[savings_proofs.LineProof]:
        return [row for row in self.proofs if not row.holds]


def savings_page(project: Project) -> SavingsPage:
    """Read the page of the book. Queries: 12, and up to 4 more where something is let in another currency."""
    held = book_entries.read(project)
    standing = held.standing
    decisions = {row.pk: row for row in Decision.objects.filter(project=project)}
    tested = savings_proofs.proofs(project, held)
    return SavingsPage(
        book=savings.summed(standing),
        rows=_rows([entry for entry in standing if entry.counted], held, decisions),
        beside=_named((entry for entry in standing if not entry.counted), held, decisions),
        ideas=_named((entry for entry in held.entries if entry.is_idea), held, decisions),
        proofs=tested,
        may_eat_minor=sum(row.proof.likely_changes_minor - row.proof.plugs_minor for row in tested),
    )


def _named(entries: Iterable[Entry], held: Book, decisions: Mapping[int, Decision]) -> tuple[Named, ...]:
    return tuple(
        Named(entry, decisions.get(entry.decision or 0), tuple(held.lines[line] for line in entry.lines if line in held.lines))
        for entry in entries
    )  # fmt: skip


def _rows(entries: Iterable[Entry], held: Book, decisions: Mapping[int, Decision]) -> tuple[Row, ...]:
    """One row per decision, by its code, then one per line that none has settled."""
    groups: dict[tuple[str, int], list[Entry]] = defaultdict(list)
    for entry in entries:
        groups[("decision", entry.decision) if entry.decision else ("line", entry.lines[0])].append(entry)
    by_decision = sorted((key for key in groups if key[0] == "decision"), key=lambda key: decisions[key[1]].code)
    by_line = [("line", line) for line in held.lines if ("line", line) in groups]
    return tuple(_row(key, groups[key], held, decisions) for key in [*by_decision, *by_line])


def _row(key: tuple[str, int], entries: Sequence[Entry], held: Book, decisions: Mapping[int, Decision]) -> Row:
    seen = savings_book.totals(entry.part for entry in entries)
    kept = [seen.by_kind[kind] for kind in (savings_book.SAME_FOR_LESS, *savings_book.KEPT) if kind in seen.by_kind]
    decision = decisions.get(key[1]) if key[0] == "decision" else None
    line = None if decision else held.lines.get(key[1])
    leading = next((entry for entry in entries if entry.kind not in savings_book.EATS), entries[0])
    return Row(
        name=f"{decision.code} {decision.title}" if decision else str(line),
        decision=decision,
        line=line,
        state=leading.state,
        promised_minor=seen.bought_minor + seen.kept_minor,
        realised_minor=sum(part.realised_minor for part in kept),
        eaten_minor=seen.eaten_minor,
        left_minor=seen.net_minor,
        entries=tuple(entries),
    )
