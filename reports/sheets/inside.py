"""What lies inside a workbook besides the values of its cells.

A workbook is a zip of XML parts (ISO/IEC 29500). The parts are unpacked here, once and within bounds, and looked
through for what the reader of values does not tell: formulas, errors, hidden rows, currency formats. The XML is searched
as bytes for the few signs that matter, which is quick and never follows a reference out of the file.
"""

import io
import re
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from html import unescape

from django.utils.translation import gettext as _

from projects.faults import Refused
from units.currencies import CURRENCIES

MOST_UNPACKED = 100 * 1024 * 1024
MOST_PARTS = 2000
_BOOK = "xl/workbook.xml"
#: A cell that does not say first where it is, or lies right of column GR (200) or below row 20,999: a value out there
#: would unpack to a grid of millions of cells. What a row says of its place matters for cells without one only.
_ODD_CELL = re.compile(rb'<c(?:[>/]| (?!r="(?:[A-Z]|[A-F][A-Z]|G[A-R])(?:[0-9]{1,4}|1[0-9]{4}|20[0-9]{3})"))')


@dataclass(frozen=True, slots=True)
class Entry:
    """A sheet of a workbook: its name, the part that holds it, and whether it is hidden."""

    name: str
    part: str
    hidden: bool


@dataclass(frozen=True, slots=True)
class Book:
    sheets: tuple[Entry, ...]
    from_1904: bool


@dataclass(frozen=True, slots=True)
class Marks:
    """What a sheet's XML tells besides values. Places are (row, column) from 1."""

    hidden_rows: frozenset[int]
    hidden_columns: frozenset[int]
    formulas: tuple[tuple[int, int], ...]
    uncomputed: tuple[tuple[int, int], ...]
    errors: dict[tuple[int, int], str]
    formats: Mapping[tuple[int, int], str]


def parts(data: bytes) -> dict[str, bytes]:
    """Unpack a workbook's XML parts.

    Raises: Refused for a zip that is damaged, unpacks too large, holds a program, or is no workbook at all.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            _bounded(archive)
            return {info.filename: archive.read(info) for info in archive.infolist() if _needed(info.filename)}
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, OSError, ValueError) as fault:
        raise Refused(
            _("The workbook is damaged or locked; open it in your spreadsheet program and save it anew."),
            field="file",
        ) from fault


def packed(found: Mapping[str, bytes]) -> bytes:
    """Put unpacked parts together again, so that whoever reads on reads the very bytes that were looked at."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as archive:
        for name, content in found.items():
            archive.writestr(name, content)
    return out.getvalue()


def _bounded(archive: zipfile.ZipFile) -> None:
    entries = archive.infolist()
    names = {entry.filename for entry in entries}
    if any("vbaproject" in name.lower() or "/macrosheets/" in name.lower() for name in names):
        raise Refused(
            _("The workbook holds a macro; save it as .xlsx, without macros, and choose that file."), field="file"
        )
    if "[Content_Types].xml" not in names or _BOOK not in names:
        raise Refused(
            _("This is neither a CSV file nor a workbook; save the sheet as .xlsx or as .csv and choose that file."),
            field="file",
        )
    if (
        len(entries) != len(names)
        or len(entries) > MOST_PARTS
        or sum(entry.file_size for entry in entries) > MOST_UNPACKED
    ):
        raise Refused(
            _("The workbook unpacks to more than 100 MB; take out pictures and what is not needed."), field="file"
        )


def _needed(name: str) -> bool:
    """What is looked at here, and whatever else the reader of values unpacks; each is so unpacked within its stated size."""
    return name.endswith((".xml", ".rels"))


def book(found: Mapping[str, bytes]) -> Book:
    """Read the list of sheets. Raises: Refused when there is none."""
    xml = found[_BOOK]
    targets = _targets(found.get("xl/_rels/workbook.xml.rels", b""))
    sheets = []
    for tag in re.findall(rb"<(?:\w+:)?sheet\b[^>]*>", xml):
        words = _attributes(tag)
        part = targets.get(next((words[key] for key in words if key.endswith(":id")), ""), "")
        if part in found and "/chartsheets/" not in part:
            sheets.append(Entry(words.get("name", ""), part, words.get("state", "visible") != "visible"))
    if not sheets:
        raise Refused(_("The workbook has no sheet with cells."), field="file")
    dated = re.search(rb"<(?:\w+:)?workbookPr\b[^>]*\bdate1904=\"(1|true)\"", xml)
    return Book(tuple(sheets), dated is not None)


def _attributes(tag: bytes) -> dict[str, str]:
    pairs = re.findall(rb"([\w:]+)\s*=\s*(?:\"([^\"]*)\"|'([^']*)')", tag)
    return {key.decode(): unescape((double or single).decode("utf-8", "replace")) for key, double, single in pairs}


def _targets(xml: bytes) -> dict[str, str]:
    found = {}
    for tag in re.findall(rb"<(?:\w+:)?Relationship\b[^>]*>", xml):
        words = _attributes(tag)
        target = words.get("Target", "")
        found[words.get("Id", "")] = target.lstrip("/") if target.startswith("/") else f"xl/{target.removeprefix('./')}"
    return found


def marks(found: Mapping[str, bytes], part: str, own: str) -> Marks:
    """Look through one sheet.

    Args:
        own: the currency whose formats need no mention, or "".
    Raises: Refused for a sheet whose XML is written in a way that cannot be looked through.
    """
    xml = found[part]
    _must_be_near(xml)
    has_formulas = b"/f>" in xml  # where a formula is shared, one cell at least spells it out
    return Marks(
        hidden_rows=_hidden_rows(xml),
        hidden_columns=_hidden_columns(xml[: xml.find(b"<sheetData")]),
        formulas=tuple(_formulas(xml)) if has_formulas else (),
        uncomputed=tuple(_uncomputed(xml)) if has_formulas else (),
        errors=_errors(xml) if b't="e"' in xml else {},
        formats=_formats(xml, found.get("xl/styles.xml", b""), own),
    )


def _must_be_near(xml: bytes) -> None:
    """Every cell says first where it is, as the usual programs write it, and lies within bounds."""
    odd = _ODD_CELL.search(xml)
    prefixed = b":c " in xml and re.search(rb"<\w+:c\b", xml)
    if odd is None and not prefixed:
        return
    place = odd and re.match(rb'<c r="([A-Z]+)([0-9]+)"', xml[odd.start() : odd.start() + 40])
    if not place:
        raise Refused(
            _("The workbook was written by an unusual program; open it in your spreadsheet program and save it anew."),
            field="file",
        )
    raise Refused(
        _(
            "Something stands far from the rest, at %(place)s; at most 20,000 rows and 200 columns are read. Delete it, or split the sheet."
        )
        % {"place": (place[1] + place[2]).decode()},
        field="file",
    )


def _place(letters: bytes, row: bytes) -> tuple[int, int]:
    column = 0
    for letter in letters:
        column = column * 26 + letter - 64
    return int(row), column


def _formulas(xml: bytes) -> list[tuple[int, int]]:
    return [_place(*found) for found in re.findall(rb'<c r="([A-Z]+)([0-9]+)"[^>]*><f[ >/]', xml)]


def _uncomputed(xml: bytes) -> list[tuple[int, int]]:
    """Formulas that no program has worked out yet: they have no value."""
    return [
        _place(*found) for found in re.findall(rb'<c r="([A-Z]+)([0-9]+)"[^>]*><f[^<]*</f>(?:<v></v>|<v ?/>)?</c>', xml)
    ]


def _errors(xml: bytes) -> dict[tuple[int, int], str]:
    cells = re.findall(rb'<c r="([A-Z]+)([0-9]+)"[^>]*\bt="e"[^>]*>(?:<f[^<]*(?:</f>|/>))?<v>([^<]*)</v>', xml)
    return {_place(letters, row): unescape(text.decode("utf-8", "replace")) for letters, row, text in cells}


def _hidden_rows(xml: bytes) -> frozenset[int]:
    if b"hidden=" not in xml:
        return frozenset()
    tags = re.findall(rb'<row [^>]*\bhidden="(?:1|true)"[^>]*>', xml)
    return frozenset(int(_attributes(tag).get("r", "0")) for tag in tags)


def _hidden_columns(xml: bytes) -> frozenset[int]:
    hidden: set[int] = set()
    for tag in re.findall(rb'<col [^>]*\bhidden="(?:1|true)"[^>]*>', xml):
        words = _attributes(tag)
        first, last = int(words.get("min", "1")), int(words.get("max", "1"))
        hidden.update(range(first, min(last, first + 300) + 1))
    return frozenset(hidden)


_SIGNS = {"£": "GBP", "€": "EUR", "$": "USD", "¥": "JPY"}


def _formats(xml: bytes, styles: bytes, own: str) -> dict[tuple[int, int], str]:
    """Which cells are shown in a named currency, by the number format of their style."""
    currencies = {style: code for style, code in _currencies_of_styles(styles).items() if code != own}
    if not currencies:
        return {}
    wanted = b"|".join(str(style).encode() for style in currencies)
    found = re.findall(rb'<c r="([A-Z]+)([0-9]+)" s="(' + wanted + rb')"', xml)
    return {_place(letters, row): currencies[int(style)] for letters, row, style in found}


def _currencies_of_styles(styles: bytes) -> dict[int, str]:
    """{number of a cell style: currency code}, for formats that name one, such as [$€-407] or [$EUR]."""
    formats = {}
    for tag in re.findall(rb"<numFmt [^>]*>", styles):
        words = _attributes(tag)
        code = _currency_in(words.get("formatCode", ""))
        if code:
            formats[words.get("numFmtId", "")] = code
    cells = styles[styles.find(b"<cellXfs") : styles.find(b"</cellXfs>")]
    used = [_attributes(tag).get("numFmtId", "") for tag in re.findall(rb"<xf\b[^>]*>", cells)]
    return {place: formats[number] for place, number in enumerate(used) if number in formats}


def _currency_in(code: str) -> str:
    named = re.search(r"\[\$([^\]-]*)", code)
    text = named[1].strip() if named else ""
    if text.upper() in CURRENCIES:
        return text.upper()
    if text in ("£", "€"):
        return _SIGNS[text]
    # A bare sign in quotation marks; a dollar may be of many countries and tells nothing.
    return next((_SIGNS[sign] for sign in ("£", "€") if sign in code), "")
