"""Tying work to money and to answers: the lines an activity pays for, the work that waits for a decision."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from decisions.forms.drafting import LineRows
from decisions.selectors.entry import LineChoice
from decisions.selectors.ties import Tied, WorkChoice
from projects.forms.rows import PatientForm, Rows, grown, rows_of
from projects.models import Project
from schedule.forms.activities import CodeField


class WorkForm(PatientForm):
    """One activity of the plan by its code."""

    work = CodeField(
        label=_("Activity"),
        required=False,
        max_length=180,
        widget=forms.TextInput(attrs={"list": "activities", "autocomplete": "off"}),
    )


class AnswerForm(PatientForm):
    """Which activity stands for the answer itself."""

    answer = forms.ChoiceField(
        label=_("The answer in the plan"), required=False,
        help_text=_("An activity of kind decision: it is done when the decision is recorded."),
    )  # fmt: skip
    #: A place for what the service says about the activities as a whole.
    activities = forms.CharField(widget=forms.HiddenInput, required=False)


WorkRows = rows_of(WorkForm)


class LinesEntry:
    """The lines of the budget that an activity's work is paid from."""

    def __init__(self, data: Any, *, project: Project, budget: Sequence[LineChoice], codes: Sequence[str]) -> None:
        data, self.growing = grown(data)
        self.form = PatientForm(data, project=project)
        self.lines: Rows = LineRows(
            data, prefix="lines", initial=[{"line": code} for code in codes or [""]], form_kwargs={"project": project}
        )
        for part in (self.form, self.lines):
            part.patient = self.growing
        for row in [*self.lines.forms, self.lines.empty_form]:
            row.fields["line"].known = budget

    def is_valid(self) -> bool:
        return not self.growing and all([self.form.is_valid(), self.lines.is_valid()])

    @property
    def line_ids(self) -> list[int]:
        return [row.cleaned_data["line"] for row in self.lines.kept]


class WorkEntry:
    """The work that waits for a decision, and the activity that stands for the answer."""

    def __init__(self, data: Any, *, project: Project, works: Sequence[WorkChoice], tied: Tied) -> None:
        data, self.growing = grown(data)
        self.works = works
        called = {work.code: work.label for work in works}
        self.form = AnswerForm(data, project=project, initial={"answer": str(tied.answer or "")})
        answers = [(str(work.pk), work.label) for work in works if work.is_answer]
        self.form.fields["answer"].choices = [("", gettext("none")), *answers]  # type: ignore[attr-defined]
        first = [{"work": called.get(code, code)} for code in tied.waiting or [""]]
        self.rows: Rows = WorkRows(data, prefix="works", initial=first, form_kwargs={"project": project})
        for part in (self.form, self.rows):
            part.patient = self.growing
        for row in [*self.rows.forms, self.rows.empty_form]:
            row.fields["work"].known = works

    def is_valid(self) -> bool:
        return not self.growing and all([self.form.is_valid(), self.rows.is_valid()])

    @property
    def activity_ids(self) -> list[int]:
        pks = {work.code: work.pk for work in self.works}
        answer = self.form.cleaned_data["answer"]
        waiting = [pks[row.cleaned_data["work"]] for row in self.rows.kept]
        return [*([int(answer)] if answer else []), *waiting]
