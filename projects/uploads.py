"""Files that people bring: what they are is read from their bytes, and where they lie tells nothing about them.

The name, the ending and the type that a browser gives are hints for people and are not believed. A file is kept under
the hash of its content, outside of everything that the web server hands out, and is served by a view that asks who
is there. It is kept as it came: a photograph's place and time are evidence.
"""

import contextlib
import hashlib
import os
import re
import tempfile
import unicodedata
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from django.conf import settings
from django.core.files.base import File
from django.utils.translation import gettext as _

from projects.faults import Refused

NAME_LENGTH = 160
_MOST_PARTS = 2_000
_MOST_UNPACKED = 200 * 1024 * 1024
_MOST_CONTENT_TYPES = 1024 * 1024
#: Kinds of the base media file format that hold still pictures in HEVC: ISO/IEC 23008-12, annex B.
_HEIC_BRANDS = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx"}
_STILL_BRANDS = {b"mif1", b"msf1"}


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of file that is taken: its ending, its media type, and whether a browser shows it in place."""

    ending: str
    media_type: str
    shown: bool = False


KINDS = {
    "pdf": Kind("pdf", "application/pdf"),
    "jpeg": Kind("jpg", "image/jpeg", shown=True),
    "png": Kind("png", "image/png", shown=True),
    "heic": Kind("heic", "image/heic"),
    "xlsx": Kind("xlsx", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"),
}
#: For the `accept` of a file entry; a hint to the browser's file picker, no more.
ACCEPT = "image/jpeg,image/png,image/heic,image/heif,application/pdf,.xlsx"


@dataclass(frozen=True, slots=True)
class Kept:
    """What is known of a file that was kept."""

    name: str
    kind: str
    size: int
    sha256: str


def most_bytes() -> int:
    """The most that one file may weigh."""
    return settings.UPLOAD_MOST_BYTES


def keep(upload: File, *, field: str = "file") -> Kept:
    """Look at a file, and keep it when it is of a kind that is taken.

    Writes one file below MEDIA_ROOT. Safe to repeat: the same content lies in the same place.
    Raises: Refused, naming the kinds that are taken or the size.
    """
    size = upload.size or 0
    if size > most_bytes():
        raise Refused(
            _("This file is larger than %s MB; send a smaller one.") % (most_bytes() // (1024 * 1024)), field=field
        )
    if size == 0:
        raise Refused(_("This file is empty; choose it once more."), field=field)
    kind = kind_of(upload.file)  # type: ignore[arg-type]  # an open file of bytes
    if kind is None:
        raise Refused(
            _("This is none of the kinds that are taken: PDF, JPEG, PNG, HEIC, or XLSX without macros."), field=field
        )
    sha256 = _copied(upload)
    return Kept(name=safe_name(upload.name or "", kind), kind=kind, size=size, sha256=sha256)


def kind_of(file: BinaryIO) -> str | None:
    """Tell what a file is by its bytes, or None when it is nothing that is taken.

    Source: the signatures of ISO 32000 (PDF), ISO/IEC 10918-1 (JPEG), ISO/IEC 15948 (PNG), ISO/IEC 14496-12 (ftyp)
    and the part names of ECMA-376 (XLSX).
    """
    file.seek(0)
    head = file.read(64)
    if head.startswith(b"%PDF-"):
        return "pdf"
    if head.startswith(b"\xff\xd8\xff"):
        return "jpeg"
    if head.startswith(b"\x89PNG\r\n\x1a\n") and head[12:16] == b"IHDR":
        return "png"
    if head[4:8] == b"ftyp" and _is_heic(head):
        return "heic"
    return "xlsx" if head.startswith(b"PK\x03\x04") and _is_plain_workbook(file) else None


def _is_heic(head: bytes) -> bool:
    """A still picture by its main brand, or by one that it says it is compatible with."""
    brand, end = head[8:12], min(int.from_bytes(head[:4], "big"), len(head))
    also = {head[at : at + 4] for at in range(16, end, 4)}
    return brand in _HEIC_BRANDS or (brand in _STILL_BRANDS and bool(also & _HEIC_BRANDS))


def _is_plain_workbook(file: BinaryIO) -> bool:
    """A workbook without macros, without paths that lead out of it, and that does not swell when it is unpacked."""
    file.seek(0)
    try:
        with zipfile.ZipFile(file) as archive:
            parts = archive.infolist()
            names = [part.filename for part in parts]
            return (
                len(parts) <= _MOST_PARTS
                and sum(part.file_size for part in parts) <= _MOST_UNPACKED
                and len({name.lower() for name in names}) == len(names)
                and all(_is_plain_part(part) for part in parts)
                and {"[Content_Types].xml", "xl/workbook.xml"} <= set(names)
                and _says_workbook(archive)
            )
    except (zipfile.BadZipFile, NotImplementedError, ValueError, OSError, RuntimeError, EOFError):
        return False


def _is_plain_part(part: zipfile.ZipInfo) -> bool:
    name = part.orig_filename
    locked = part.flag_bits & 0x1
    leads_out = name.startswith("/") or "\\" in name or "\x00" in name or ".." in name.split("/") or ":" in name
    return not locked and not leads_out and not name.lower().endswith(("vbaproject.bin", ".exe", ".dll"))


def _says_workbook(archive: zipfile.ZipFile) -> bool:
    """The list of parts names an ordinary workbook, and no part with macros."""
    with archive.open("[Content_Types].xml") as listed:
        text = listed.read(_MOST_CONTENT_TYPES).lower()
    return b"spreadsheetml.sheet.main+xml" in text and b"macroenabled" not in text and b"vbaproject" not in text


def _chunks(upload: File) -> Iterator[bytes]:
    upload.seek(0)
    yield from upload.chunks()


def _copied(upload: File) -> str:
    """Write the bytes to a name nobody knows yet, then move them under their hash in one step."""
    root = Path(settings.MEDIA_ROOT)
    root.mkdir(mode=0o700, parents=True, exist_ok=True)
    digest = hashlib.sha256()
    handle, scratch = tempfile.mkstemp(dir=root, prefix="incoming-")
    try:
        with os.fdopen(handle, "wb") as target:
            for chunk in _chunks(upload):
                digest.update(chunk)
                target.write(chunk)
        place = path_of(digest.hexdigest())
        place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        os.replace(scratch, place)
    except BaseException:
        with contextlib.suppress(FileNotFoundError):
            os.unlink(scratch)
        raise
    return digest.hexdigest()


def path_of(sha256: str) -> Path:
    """Where the content with this hash lies. Raises: ValueError for anything that is no hash."""
    if not re.fullmatch(r"[0-9a-f]{64}", sha256):
        raise ValueError("not a SHA-256 in hexadecimal")
    return Path(settings.MEDIA_ROOT) / sha256[:2] / sha256


def safe_name(given: str, kind: str) -> str:
    """A name that can be shown and saved: no path, no control or direction marks, and the ending of what it is.

    >>> safe_name("../../Quote 7.PDF", "pdf"), safe_name("invoice.exe", "jpeg"), safe_name("", "png")
    ('Quote 7.pdf', 'invoice.exe.jpg', 'file.png')
    """
    last = re.split(r"[/\\]", given)[-1]
    plain = "".join(sign for sign in unicodedata.normalize("NFC", last) if unicodedata.category(sign)[0] != "C")
    plain = re.sub(r'[<>:"|?*]', " ", plain)
    ending = KINDS[kind].ending
    stem = re.sub(r"\.(pdf|jpe?g|png|hei[cf]|xlsx)$", "", plain.strip(" ."), flags=re.IGNORECASE).strip(" .")
    return f"{stem[: NAME_LENGTH - len(ending) - 1] or 'file'}.{ending}"
