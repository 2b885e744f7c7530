"""Pages obey the content security policy: no script, style or handler is written into a template."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
INLINE = re.compile(
    r"<style\b|<script\b(?![^>]*\bsrc=)(?![^>]*type=\"application/json\")|\son[a-z]+\s*=\s*[\"']|\sstyle\s*=|javascript:",
    re.IGNORECASE,
)


def templates() -> list[Path]:
    return sorted((ROOT / "templates").rglob("*.html"))


def test_no_template_holds_a_script_style_or_handler():
    found = {
        f"{path.name}: {match.group(0).strip()}"
        for path in templates()
        for match in INLINE.finditer(path.read_text("utf-8"))
    }
    assert templates() and found == set()


@pytest.mark.parametrize(
    "planted",
    [
        "<style>a{}</style>",
        "<script>1</script>",
        '<a onclick="x()">',
        '<p style="color:red">',
        '<a href="javascript:x">',
    ],
)
def test_a_planted_one_is_found(planted: str):
    assert INLINE.search(planted)


def test_a_script_by_address_is_allowed():
    assert not INLINE.search('<script src="/static/js/charts.js" defer></script>')
