"""What people read is marked for translation, in templates as well as in code."""

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
#: Shown to developers only, with made-up content.
EXEMPT = {"gallery.html", "_gallery"}
NAMES = {"Batterboard"}
DROPPED = re.compile(
    r"{%\s*comment.*?endcomment\s*%}|{#.*?#}|<!--.*?-->|{%\s*blocktrans(?:late)?\b.*?endblocktrans(?:late)?\s*%}"
    r"|<(script|style|svg)\b.*?</\1>|{%.*?%}|{{.*?}}|&\w+;",
    re.DOTALL,
)
SPOKEN = re.compile(r"\s(?:title|aria-label|placeholder|alt)\s*=\s*\"([^\"]*)\"")
TAG = re.compile(r"<[^>]*>", re.DOTALL)
WORD = re.compile(r"[^\W\d_]{2,}")


def unmarked(template: str) -> list[str]:
    """Words that a reader would see, or hear, and that no translator would."""
    text = DROPPED.sub(" ", template)
    seen = " ".join(SPOKEN.findall(text)) + " " + TAG.sub(" ", text)
    return [word for word in WORD.findall(seen) if word not in NAMES]


def test_every_word_of_a_page_is_marked():
    paths = [path for path in (ROOT / "templates").rglob("*.html") if not EXEMPT & set(path.parts)]
    found = {path.relative_to(ROOT).as_posix(): unmarked(path.read_text("utf-8")) for path in paths}
    assert paths and {path: words for path, words in found.items() if words} == {}


@pytest.mark.parametrize(
    ("template", "words"),
    [
        ("<p>Over budget</p>", ["Over", "budget"]),
        ('<button aria-label="Close">{% icon "x" %}</button>', ["Close"]),
        ('<p>{% translate "Over" %} by {{ amount }}</p>', ["by"]),
    ],
)
def test_a_planted_word_is_found(template: str, words: list[str]):
    assert unmarked(template) == words


@pytest.mark.parametrize(
    "template",
    [
        '<p title="{% translate "Over" %}">{% translate "Over" %}</p>',
        "{% blocktranslate count n=n %}one day{% plural %}{{ n }} days{% endblocktranslate %}",
        "{# a note #}{% comment %}a note{% endcomment %}<b>{{ amount }}</b> &nbsp; £ Batterboard",
    ],
)
def test_a_marked_word_passes(template: str):
    assert unmarked(template) == []


def unmarked_refusals(source: str) -> list[int]:
    """Lines that refuse something in words no translator would see."""
    calls = (node for node in ast.walk(ast.parse(source)) if isinstance(node, ast.Call) and node.args)
    refusals = (
        call for call in calls if getattr(call.func, "id", getattr(call.func, "attr", "")) in {"Refused", "Stale"}
    )
    return [call.lineno for call in refusals if isinstance(call.args[0], ast.Constant | ast.JoinedStr)]


def test_every_refusal_is_marked():
    sources = [
        path
        for app in ("projects", "budget", "schedule", "decisions", "reports")
        for path in (ROOT / app).rglob("*.py")
    ]
    found = {path.relative_to(ROOT).as_posix(): unmarked_refusals(path.read_text("utf-8")) for path in sources}
    assert sources and {path: lines for path, lines in found.items() if lines} == {}


def test_a_planted_refusal_is_found():
    source = "raise Refused('No.')\nraise faults.Stale(f'{name} was first.')\nraise Refused(_('No.'))"
    assert unmarked_refusals(source) == [1, 2]
