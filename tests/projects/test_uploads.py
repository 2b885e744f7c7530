"""Files are known by their bytes. The samples are made by hand after the standards named in `uploads.kind_of`."""

import hashlib
import io
import stat
import zipfile
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from hypothesis import given
from hypothesis import strategies as st

from projects import uploads
from projects.faults import Refused
from projects.models import Project, User
from projects.services import files
from tests import builders

JPEG = b"\xff\xd8\xff\xe0\x00\x10JFIF\x00" + b"\x00" * 20
SHEET = b'<Types><Override ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/></Types>'


def media_box(brand: bytes, *also: bytes) -> bytes:
    """The opening of a file of the base media format: length, "ftyp", main brand, version, compatible brands."""
    body = b"ftyp" + brand + b"\x00" * 4 + b"".join(also)
    return (len(body) + 4).to_bytes(4, "big") + body + b"\x00" * 64


def workbook(listed: bytes = SHEET, **more: bytes) -> bytes:
    """A minimal workbook; `more` adds parts, `__` in a name standing for the slash."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.writestr("[Content_Types].xml", listed)
        archive.writestr("xl/workbook.xml", "<workbook/>")
        for name, content in more.items():
            archive.writestr(name.replace("__", "/"), content)
    return buffer.getvalue()


TAKEN = [
    (builders.PDF, "pdf"),
    (JPEG, "jpeg"),
    (builders.PNG, "png"),
    (media_box(b"heic"), "heic"),
    (media_box(b"mif1", b"mif1", b"heic"), "heic"),
    (workbook(), "xlsx"),
]


@pytest.mark.parametrize(("content", "kind"), TAKEN)
def test_what_is_taken(content: bytes, kind: str):
    assert uploads.kind_of(io.BytesIO(content)) == kind


def _raw_path(name: str) -> bytes:
    """A workbook with a part whose path is written as it is, past the library's own mending."""
    content = workbook(**{"x" * len(name): b"x"})
    return content.replace(b"x" * len(name), name.encode())


REFUSED = {
    "a page": b"<html><script>alert(1)</script></html>",
    "a drawing with script": b'<svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)"/>',
    "a program": b"MZ\x90\x00" + b"\x00" * 60,
    "an animation": b"GIF89a" + b"\x00" * 60,
    "a plain archive": b"PK\x03\x04" + b"\x00" * 60,
    "text": b"quote: 9000",
    "a film": media_box(b"isom", b"mp42"),
    "another kind of still": media_box(b"avif", b"mif1"),
    "a picture cut off": b"\x89PNG\r\n\x1a\n",
    "a page before a document": b"<html>%PDF-1.7",
    "a workbook with macros": workbook(xl__vbaProject=b"x", **{"xl/vbaProject.bin": b"x"}),
    "a workbook that says macros": workbook(b"macroEnabled.main+xml spreadsheetml.sheet.main+xml"),
    "a text document": workbook(b"wordprocessingml.document.main+xml"),
    "a path upwards": _raw_path("../../etc/passwd"),
    "a path from the root": _raw_path("/etc/passwd"),
    "a path of another system": _raw_path("..\\..\\start.bat"),
    "a drive": _raw_path("c:evil.txt"),
    "too many parts": workbook(**{f"part{n}": b"" for n in range(2_001)}),
}


@pytest.mark.parametrize("content", REFUSED.values(), ids=REFUSED.keys())
def test_what_is_not_taken(content: bytes):
    assert uploads.kind_of(io.BytesIO(content)) is None


def test_a_workbook_that_swells_is_not_taken(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(uploads, "_MOST_UNPACKED", 1_000_000)
    buffer = io.BytesIO(workbook())
    with zipfile.ZipFile(buffer, "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/big.xml", b"0" * 1_000_000)
    assert uploads.kind_of(buffer) is None


@given(st.binary(max_size=300))
def test_any_bytes_are_told_or_turned_away(content: bytes):
    assert uploads.kind_of(io.BytesIO(content)) in {None, *uploads.KINDS}


@given(st.binary(max_size=400), st.integers(0, 200))
def test_a_damaged_workbook_is_turned_away_or_whole(noise: bytes, at: int):
    good = workbook()
    damaged = good[:at] + noise + good[at + len(noise) :]
    assert uploads.kind_of(io.BytesIO(damaged)) in {None, *uploads.KINDS}


def test_a_file_lies_under_its_hash_and_is_private(project: Project, lead: User):
    row = files.add_attachment(
        project, SimpleUploadedFile("../../quote.exe", JPEG, "text/html"), by=lead, now=builders.NOW
    )
    place = uploads.path_of(row.sha256)
    assert row.sha256 == hashlib.sha256(JPEG).hexdigest() and place.read_bytes() == JPEG
    assert (row.kind, row.name, row.size) == ("jpeg", "quote.exe.jpg", len(JPEG))
    assert stat.S_IMODE(place.stat().st_mode) == 0o600
    assert project.trail.filter(subject="file", subject_id=row.pk).count() == 1


def test_the_same_content_lies_once(project: Project, tmp_path: Path, settings):
    settings.MEDIA_ROOT = tmp_path
    first, second = builders.attachment(project, "a.pdf"), builders.attachment(project, "b.pdf")
    assert first.pk != second.pk and first.sha256 == second.sha256
    assert len([path for path in tmp_path.rglob("*") if path.is_file()]) == 1


@pytest.mark.parametrize(
    ("content", "said"), [(b"", "empty"), (b"plain words", "PDF, JPEG, PNG, HEIC"), (b"%PDF-" + b"0" * 99, "larger")]
)
def test_a_refusal_says_why_and_leaves_nothing(
    content: bytes, said: str, project: Project, lead: User, tmp_path: Path, settings
):
    settings.MEDIA_ROOT, settings.UPLOAD_MOST_BYTES = tmp_path, 64
    with pytest.raises(Refused, match=said) as fault:
        files.add_attachment(project, SimpleUploadedFile("x.pdf", content), by=lead, now=builders.NOW, field="photo")
    assert fault.value.field == "photo" and list(tmp_path.iterdir()) == [] and not project.attachments.exists()


@pytest.mark.parametrize("text", ["../../secret_key", "a" * 63, "A" * 64, "a" * 64 + "\n"])
def test_only_a_hash_leads_to_a_place(text: str):
    with pytest.raises(ValueError, match="SHA-256"):
        uploads.path_of(text)


@given(st.text(max_size=300), st.sampled_from(sorted(uploads.KINDS)))
def test_a_name_is_always_safe_to_save(given_name: str, kind: str):
    name = uploads.safe_name(given_name, kind)
    assert 0 < len(name) <= uploads.NAME_LENGTH and name.endswith("." + uploads.KINDS[kind].ending)
    assert not set(name) & set('/\\\r\n\0"\u202e') and not name.startswith(".")


# --- Handing a file out ------------------------------------------------------------------------------------------


def headers(client, project: Project, content: bytes, name: str = "evidence") -> dict[str, str]:
    row = builders.attachment(project, name, content)
    answer = client.get(f"/p/{project.slug}/files/{row.pk}/")
    assert answer.status_code == 200 and b"".join(answer.streaming_content) == content
    return dict(answer.headers)


@pytest.mark.parametrize(
    ("content", "media_type", "way"),
    [
        (JPEG, "image/jpeg", "inline"),
        (builders.PNG, "image/png", "inline"),
        (builders.PDF, "application/pdf", "attachment"),
        (media_box(b"heic"), "image/heic", "attachment"),
        (workbook(), uploads.KINDS["xlsx"].media_type, "attachment"),
    ],
)
def test_a_file_is_handed_out_as_what_it_is(content: bytes, media_type: str, way: str, project: Project, viewer: User):
    got = headers(builders.signed_in(viewer), project, content)
    assert got["Content-Type"] == media_type and got["Content-Disposition"].startswith(way)
    assert got["X-Content-Type-Options"] == "nosniff" and got["Cache-Control"] == "private, no-store"
    assert got["Content-Security-Policy"] == "sandbox; default-src 'none'"


def test_a_name_cannot_break_out_of_its_header(project: Project, lead: User):
    got = headers(builders.signed_in(lead), project, builders.PDF, 'a"; filename="evil.exe')
    assert got["Content-Disposition"].count("filename") <= 2 and "\n" not in got["Content-Disposition"]
    assert 'evil.exe"' not in got["Content-Disposition"].replace("evil.exe.pdf", "")


def test_a_file_is_reached_through_its_own_project_only(project: Project, lead: User):
    other = builders.project(lead, name="Another hall")
    row = builders.attachment(project)
    client = builders.signed_in(lead)
    assert client.get(f"/p/{other.slug}/files/{row.pk}/").status_code == 404


def test_bytes_that_went_missing_are_a_page_that_is_not_there(project: Project, lead: User, tmp_path: Path, settings):
    settings.MEDIA_ROOT = tmp_path
    row = builders.attachment(project)
    uploads.path_of(row.sha256).unlink()
    assert builders.signed_in(lead).get(f"/p/{project.slug}/files/{row.pk}/").status_code == 404
