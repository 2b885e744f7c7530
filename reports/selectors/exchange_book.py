"""What the page of a practitioner's own sheet shows: its questions, its proofs, and every row as it was and as it was read."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from budget.calc.sheets import cells, loose
from budget.calc.sheets.book import Book
from budget.calc.sheets.bookrows import Row, roles_of
from budget.calc.sheets.grid import Fault, column_name
from budget.calc.sheets.preview import Choices
from budget.calc.sheets.proofs import Blame, Proof
from budget.models import ImportBatch
from budget.selectors import imports
from projects import display
from projects.models import Project
from reports.exchange import asked, words
from reports.selectors.exchange import PLACES, ROWS_AT_ONCE, Kind

#: So many questions are put at once.
QUESTIONS_AT_ONCE = 40
#: Rows that their words make something else than a line; somebody may say that they are one.
LIKE_LINES = frozenset({"sub-total", "total", "trade", "print note"})


@dataclass(frozen=True, slots=True)
class CellShown:
    """One cell: what was read, what the sheet said where the two do not look alike, and what else it said."""

    heading: str
    text: str
    given: str
    note: str
    role: str = ""
    money: bool = False
    asks: bool = False


@dataclass(frozen=True, slots=True)
class RowShown:
    """One row: a line with its cells, or, with `reason`, what it is instead and its text."""

    number: int
    reason: str
    text: str
    cells: tuple[CellShown, ...]
    comes: bool
    may_be_line: bool
    forced: bool
    may_leave: bool


@dataclass(frozen=True, slots=True)
class ProofShown:
    row: int
    label: str
    heading: str
    stated: str
    found: str
    holds: bool
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BookShown:
    """A sheet for its page."""

    seen: Book
    open: tuple[asked.Asked, ...]
    open_later: int
    answered: tuple[asked.Asked, ...]
    proofs: tuple[ProofShown, ...]
    headings: tuple[tuple[str, bool], ...]
    rows: tuple[RowShown, ...]
    all_rows: int
    start: int
    stopping: tuple[Kind, ...]
    noted: tuple[Kind, ...]

    @property
    def earlier(self) -> int | None:
        return None if not self.start else max(0, self.start - ROWS_AT_ONCE)

    @property
    def later(self) -> int | None:
        return self.start + ROWS_AT_ONCE if self.start + ROWS_AT_ONCE < self.all_rows else None


def book(batch: ImportBatch, seen: Book, choices: Choices, *, start: int, only: bool) -> BookShown:
    """Put a sheet into words and figures. Queries: 1, the trades."""
    project = batch.project
    trades = dict(imports.trade_names(project))
    ordered = sorted(seen.questions, key=lambda question: question.row)  # what is about the whole sheet comes first
    said = [asked.explain(question, project, trades=trades, answers=choices.answers) for question in ordered]
    waiting = [one for one in said if one.open]
    rows = [row for row in seen.rows if not only or row.why or _asks(row)]
    places = _places(seen)
    return BookShown(
        seen=seen, open=tuple(waiting[:QUESTIONS_AT_ONCE]), open_later=max(0, len(waiting) - QUESTIONS_AT_ONCE),
        answered=tuple(one for one in said if not one.open)[:200],
        proofs=tuple(_proof(project, seen, proof) for proof in seen.proofs),
        headings=tuple((_heading(seen, place), _is_money(seen, place)) for place in places),
        rows=tuple(_row(project, seen, row, places) for row in rows[start : start + ROWS_AT_ONCE]), all_rows=len(rows), start=start,
        stopping=_kinds(seen, stops=True), noted=_kinds(seen, stops=False),
    )  # fmt: skip


def _places(seen: Book) -> list[int]:
    """The columns in the order of the sheet: those with a heading, or a role."""
    used = set(seen.shape.roles.values())
    return [
        place for place in range(len(seen.shape.headings)) if place in used or seen.shape.headings[place]
    ] or sorted(used)


def _heading(seen: Book, place: int) -> str:
    headings = seen.shape.headings
    return (headings[place] if place < len(headings) else "") or column_name(place + 1)


def _is_money(seen: Book, place: int) -> bool:
    return roles_of(seen.shape).get(place) in ("budget", "quote", "paid")


def _asks(row: Row) -> bool:
    return any(isinstance(read, loose.Doubt) for read in row.reads.values())


def _kinds(seen: Book, *, stops: bool) -> tuple[Kind, ...]:
    found: dict[tuple[str, str], list[words.Said]] = {}
    for trouble in seen.troubles:
        if trouble.stops == stops:
            found.setdefault((trouble.kind, "" if trouble.row else trouble.about), []).append(words.explain(trouble))
    return tuple(
        Kind(said[0], tuple(one.place for one in said[:PLACES] if one.place), len(said)) for said in found.values()
    )


# --- Rows ------------------------------------------------------------------------------------------------------------


def reasons() -> Mapping[str, str]:
    """Why a row is left out."""
    return {
        "title": _("title"), "print note": _("print note"), "blank": _("blank"), "heading": _("headings"), "sub-total": _("sub-total"),
        "total": _("total"), "trade": _("trade of the rows below"), "twin": _("likely there twice"), "percent": _("a percentage"),
        "nameless": _("no name"), "bare": _("no amount"), "credit": _("a credit"), "code": _("its code"), "chosen": _("left out by you"),
    }  # fmt: skip


def _row(project: Project, seen: Book, row: Row, places: Sequence[int]) -> RowShown:
    reason = "" if row.comes else reasons()[row.why or row.kind]
    text = " · ".join(filter(None, row.given))[:300]
    return RowShown(
        number=row.number, reason=reason, text=text, comes=row.comes,
        cells=tuple(_cell(project, seen, row, place) for place in places) if row.kind == "line" else (),
        may_be_line=row.forced or (row.kind in LIKE_LINES and row.number > (seen.shape.last or 0) + 1), forced=row.forced,
        may_leave=row.comes or row.why == "chosen",
    )  # fmt: skip


def _cell(project: Project, seen: Book, row: Row, place: int) -> CellShown:
    given = row.given[place] if place < len(row.given) else ""
    heading, role = _heading(seen, place), roles_of(seen.shape).get(place, "")
    read = row.reads.get(place)
    if role == "trade" and row.carried and not given:
        return CellShown(heading, row.trade, "", _("from above"), role)
    if read is None or isinstance(read, loose.Empty):
        note = _("no amount") if isinstance(read, loose.Empty) and given else ""
        if role == "quantity" and isinstance(cells.quantity_reader(seen.mark)(given), Fault):
            note = _("kept as text")
        return CellShown(heading, given, "", note, role, money=read is not None)
    if isinstance(read, loose.Doubt):
        asks = role != "paid" and (row.comes or row.why == "percent")
        return CellShown(
            heading, given, "", _("asked above") if asks else _("kept as text"), role, money=True, asks=asks
        )
    text = display.money(read.minor, display.InCurrency(read.currency, project.locale))
    return CellShown(heading, text, given if _differs(given, text) else "", _how(read), role, money=True)


def _differs(given: str, text: str) -> bool:
    """True where what was given is not the same digits as what was read."""
    plain = text.replace("\u00a0", " ")
    return given not in (plain, plain.lstrip("£$€"), plain.removesuffix(".00"), plain.lstrip("£$€").removesuffix(".00"))


def _how(figure: loose.Figure) -> str:
    """How an amount was read, where that is worth a word."""
    said = {
        "thousands": _("k is thousand"), "millions": _("millions"), "space": _("a space parts thousands"),
        "brackets": _("brackets are minus"),
        "trailing minus": _("minus behind"), "credit": _("a credit"), "marks of its own": _("a comma parts the decimals"),
        "about": _("an estimate"), "rounded": _("rounded"), "answered": _("as you answered"),
    }  # fmt: skip
    found = [said[word] for word in figure.how if word in said]
    tax = {"net": _("without tax"), "gross": _("with tax inside")}.get(figure.tax, "")
    return ", ".join(filter(None, [*found, tax]))


# --- Proofs ----------------------------------------------------------------------------------------------------------


def _proof(project: Project, seen: Book, proof: Proof) -> ProofShown:
    def money(minor: int) -> str:
        return display.money(minor, display.InCurrency(proof.currency, project.locale))

    told: list[str] = []
    if not proof.holds:
        off = proof.stated - proof.found
        told.append((_("%s too much.") if off > 0 else _("%s too little.")) % money(abs(off)))
        if proof.with_asked != proof.found:
            told.append(_("With the rows that are left out by an answer the rows make %s.") % money(proof.with_asked))
        told += [_blamed(blame) for blame in proof.blames] or [
            _("No row, no two rows and no range explain it; the total itself is likely old.")
        ]
    return ProofShown(
        proof.row,
        proof.label,
        _heading(seen, proof.column),
        money(proof.stated),
        money(proof.found),
        proof.holds,
        tuple(told),
    )


def _blamed(blame: Blame) -> str:
    rows = ngettext("row %s", "rows %s", len(blame.rows)) % ", ".join(map(str, blame.rows))
    sentences = {
        "asked": _("It counts %s, which is left out."), "left out": _("It would hold without %s: its sum misses that."),
        "twice": _("It would hold if %s stood twice."), "ends early": _("It is the sum down to %s: its range ends too early."),
        "begins late": _("It is the sum from %s on: its range begins too late."),
        "sub-totals": _("It counts the sub-totals of %s as well."),
        "slip": _("It would hold if %s were ten, a hundred or a thousand times as much, or as little."),
    }  # fmt: skip
    return sentences[blame.kind] % rows
