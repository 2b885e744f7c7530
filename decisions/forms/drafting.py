"""Starting a decision, its words and its must-pass checks."""

from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from decisions.forms.rows import CodeField, PatientForm, Rows, grown, rows_of
from decisions.selectors.entry import LineChoice
from decisions.services.drafts import MustPassDraft
from projects.forms import DateField, NumberField
from projects.models import Project


class WordsForm(PatientForm):
    title = forms.CharField(label=_("What is to be decided"), max_length=160, help_text=_("How to carry the tank"))
    question = forms.CharField(
        label=_("The question"), required=False, max_length=1000, widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("As you would ask it on site; who has to be heard."),
    )  # fmt: skip
    need_by = DateField(label=_("Needed by"), required=False, help_text=_("The day from which waiting does harm."))
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)


class LineForm(PatientForm):
    line = CodeField(label=_("Line of the budget"), required=False)


class CheckForm(PatientForm):
    id = forms.IntegerField(widget=forms.HiddenInput, required=False, min_value=1, max_value=2**53)
    name = forms.CharField(label=_("Must pass"), required=False, max_length=160)
    at_least = NumberField(label=_("At least"), required=False)
    at_most = NumberField(label=_("At most"), required=False)
    unit = forms.CharField(label=_("Unit"), required=False, max_length=20)

    def is_blank(self) -> bool:
        entered = ("name", "at_least", "at_most", "unit")
        return not any(self.cleaned_data.get(name) not in (None, "") for name in entered)

    def draft(self) -> MustPassDraft:
        held = self.cleaned_data
        return MustPassDraft(held["name"], held["unit"], held["at_least"], held["at_most"], held["id"])


LineRows = rows_of(LineForm)
CheckRows = rows_of(CheckForm)


class ChecksEntry:
    """The must-pass checks of a decision as rows."""

    def __init__(
        self, data: Any, *, project: Project, initial: list[dict[str, Any]], version: int | None = None
    ) -> None:
        data, self.growing = grown(data)
        kwargs = {"project": project}
        self.rows: Rows = CheckRows(data, prefix="checks", initial=initial, form_kwargs=kwargs)
        self.rows.patient = self.growing
        self.form = VersionForm(data, project=project, initial={"version": version})
        self.form.patient = self.growing

    def is_valid(self) -> bool:
        return not self.growing and all([self.form.is_valid(), self.rows.is_valid()])

    def drafts(self) -> list[MustPassDraft]:
        return [row.draft() for row in self.rows.kept]


class VersionForm(PatientForm):
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)


class DecisionEntry:
    """A new decision: its words, the lines it settles, its checks."""

    def __init__(self, data: Any, *, project: Project, budget: tuple[LineChoice, ...], lines: list[str]) -> None:
        data, self.growing = grown(data)
        kwargs = {"project": project}
        self.form = WordsForm(data, project=project)
        self.lines: Rows = LineRows(
            data, prefix="lines", initial=[{"line": code} for code in lines or [""]], form_kwargs=kwargs
        )
        self.checks: Rows = CheckRows(data, prefix="checks", initial=[], form_kwargs=kwargs)
        for part in (self.form, self.lines, self.checks):
            part.patient = self.growing
        for row in [*self.lines.forms, self.lines.empty_form]:
            row.fields["line"].known = budget

    def is_valid(self) -> bool:
        return not self.growing and all([self.form.is_valid(), self.lines.is_valid(), self.checks.is_valid()])

    def values(self) -> dict[str, Any]:
        """What the service takes."""
        held = self.form.cleaned_data
        return {
            "title": held["title"],
            "question": held["question"],
            "need_by": held["need_by"],
            "line_ids": [row.cleaned_data["line"] for row in self.lines.kept],
            "checks": [row.draft() for row in self.checks.kept],
        }


def words_initial(title: str, question: str, need_by: date | None, version: int) -> dict[str, Any]:
    return {"title": title, "question": question, "need_by": need_by, "version": version}
