"""How a practitioner's own sheet is to be read: answers to its questions, what each column is for, which rows stay out."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from budget.calc.sheets.asking import TYPED
from budget.calc.sheets.book import Book
from budget.calc.sheets.bookrows import roles_of
from budget.calc.sheets.grid import column_name
from budget.calc.sheets.preview import Choices
from budget.calc.sheets.shape import ONCE
from reports.selectors.exchange import whole_number

MOST_ANSWERS = 20_000
LONGEST_ANSWER = 400
ROLES = (
    ("", _("not used")), ("trade", _("trade")), ("code", _("code")), ("description", _("description")), ("kind", _("kind")),
    ("unit", _("unit")), ("quantity", _("quantity")), ("budget", _("budget")), ("quote", _("quotes")),
    ("vendor", _("vendors of the quotes")),
    ("paid", _("amounts kept beside")),
    ("kept", _("text kept beside")), ("note", _("note")),
)  # fmt: skip


class ShapeForm(forms.Form):
    """Where the headings stand, what parts the decimals, and what each column is for."""

    heading = forms.IntegerField(label=_("Row of the headings"), min_value=1, max_value=200, required=False)
    mark = forms.ChoiceField(
        label=_("Decimals are parted by"), required=False,
        choices=[("", _("as the sheet tells")), (".", _("a point: 1,234.50")), (",", _("a comma: 1.234,50"))],
    )  # fmt: skip

    def __init__(self, seen: Book, choices: Choices, *, width: int, data: Any = None) -> None:
        last = seen.shape.last
        super().__init__(
            data, prefix="read", initial={"heading": None if last is None else last + 1, "mark": choices.mark}
        )
        roles, headings = roles_of(seen.shape), seen.shape.headings
        self.found_heading = last
        self.places = [
            place
            for place in range(width)
            if place in roles or place < 30 or (place < len(headings) and headings[place])
        ]
        for place in self.places:
            heading = headings[place] if place < len(headings) else ""
            name = column_name(place + 1)
            self.fields[f"column_{place}"] = forms.ChoiceField(
                label=f"{name} · {heading[:40]}" if heading else name,
                choices=ROLES,
                required=False,
                initial=roles.get(place, ""),
            )

    @property
    def columns(self) -> list[Any]:
        return [self[f"column_{place}"] for place in self.places]

    def clean(self) -> dict[str, Any]:
        found = super().clean() or {}
        for role in ONCE:
            places = [place for place in self.places if found.get(f"column_{place}") == role]
            for place in places[1:]:
                self.add_error(
                    f"column_{place}",
                    _("Another column is that already; only quotes and what is kept may stand in several."),
                )
        return found

    def choices(self, before: Choices) -> Choices:
        """What was chosen, with the answers of before. Only of a valid form."""
        found = self.cleaned_data
        chosen = {place: found[f"column_{place}"] for place in self.places}
        columns = {role if role in ONCE else f"{role} {place}": place for place, role in chosen.items() if role}
        heading = int(found.get("heading") or 0) - 1
        if heading < 0 or heading == self.found_heading:
            return replace(before, columns=columns, mark=found["mark"])
        return replace(before, heading=heading, columns=None, mark=found["mark"])  # other headings, other columns


def answered(data: QueryDict, before: Choices) -> Choices:
    """The choices with what was answered on the page; a question that got no answer stays open."""
    answers = dict(before.answers)
    for key in data.getlist("asked")[:MOST_ANSWERS]:
        choice, text = _given(data, f"choice:{key}"), _given(data, f"typed:{key}")
        if choice == TYPED or (not choice and text):
            answers[_plain(key)] = f"{TYPED}{text}"
        elif choice:
            answers[_plain(key)] = choice
    for key in filter(lambda key: key.startswith("vendor:"), data.getlist("part")[:MOST_ANSWERS]):
        answers.pop(_plain(key), None)
        if text := _given(data, f"typed:{key}"):
            answers[_plain(key)] = f"{TYPED}{text}"
    return replace(before, answers={key: answers[key] for key in list(answers)[:MOST_ANSWERS]})


def _given(data: QueryDict, name: str) -> str:
    return _plain(data.get(name, ""))


def _plain(text: str) -> str:
    """What was sent, without what no database keeps, and no longer than an answer."""
    return text.replace("\x00", " ").strip()[:LONGEST_ANSWER]


def rows_chosen(data: QueryDict, before: Choices) -> Choices:
    """The choices with the rows that were ticked on the page: left out, or taken for a line after all."""
    on_page = _numbers(data.getlist("shown"))
    out = ((before.out or frozenset()) - on_page) | (_numbers(data.getlist("out")) & on_page)
    lines = _numbers(data.getlist("line")) & on_page
    answers = {
        key: answer for key, answer in before.answers.items() if not key.startswith("line:") or _row(key) not in on_page
    }
    return replace(before, out=out, answers=answers | {f"line:{row}": "yes" for row in sorted(lines)})


def _row(key: str) -> int:
    return whole_number(key.partition(":")[2])


def _numbers(texts: Sequence[str]) -> frozenset[int]:
    return frozenset(filter(None, map(whole_number, texts)))
