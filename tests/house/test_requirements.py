"""Every requirement is pinned and says what it is for; commands that are written down exist."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PINNED = re.compile(r"^[A-Za-z0-9_.-]+(\[[a-z0-9,-]+\])?==[0-9][0-9A-Za-z.]*  # \S.+$")


def lines(name: str) -> list[str]:
    text = (ROOT / name).read_text("utf-8").splitlines()
    return [line for line in text if line and not line.startswith(("#", "-r "))]


@pytest.mark.parametrize("name", ["requirements.txt", "requirements-dev.txt"])
def test_every_requirement_is_pinned_with_its_reason(name: str):
    assert lines(name) and [line for line in lines(name) if not PINNED.match(line)] == []


@pytest.mark.parametrize("planted", ["Django", "Django>=5.2  # web", "Django==5.2.19"])
def test_a_planted_requirement_is_found(planted: str):
    assert not PINNED.match(planted)


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md"])
def test_written_commands_exist(name: str):
    text = (ROOT / name).read_text("utf-8")
    targets = set(re.findall(r"^([a-z ]+):$", (ROOT / "Makefile").read_text("utf-8"), re.MULTILINE)[0].split())
    asked = set(re.findall(r"\bmake ([a-z]+)\b", " ".join(re.findall(r"`[^`]+`|```.*?```", text, re.DOTALL))))
    scripts = re.findall(r"\bscripts/[a-z_]+\.py", text)
    assert asked and asked <= targets
    assert [path for path in scripts if not (ROOT / path).exists()] == []
