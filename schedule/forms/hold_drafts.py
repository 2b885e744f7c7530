"""The form of a hold point itself: where it is looked at, what it stops, who signs, and a row to a check."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from projects.forms import MoneyField
from projects.forms.rows import PatientForm, Rows, grown, rows_of
from projects.models import Project
from schedule.calc.starting_holds import StartingHold
from schedule.forms.activities import OFFERED, CodeField
from schedule.forms.fields import chips, words
from schedule.models import HoldCheck, HoldPoint
from schedule.selectors.editing import Choice
from schedule.services.hold_rules import CheckDraft, HoldDraft


def _activity(label: Any, *, required: bool = False) -> CodeField:
    widget = forms.TextInput(attrs=OFFERED | {"list": "activities"})
    return CodeField(label=label, required=required, max_length=180, widget=widget)


class CheckForm(PatientForm):
    """One thing to look at; empty words leave the row out."""

    id = forms.IntegerField(required=False, widget=forms.HiddenInput)
    text = words(_("What is looked at"), 200, required=False)
    limit = words(_("Limit"), 160, required=False)
    limit_from = forms.ChoiceField(label=_("Set by"), choices=HoldCheck.Source.choices)
    limit_named = words(_("Which one"), 160, required=False, help_text=_("The clause, sheet or drawing."))
    evidence = forms.ChoiceField(label=_("Shown by a"), choices=HoldCheck.Evidence.choices)
    evidence_named = words(_("In words"), 160, required=False)

    def is_blank(self) -> bool:
        return not self.cleaned_data.get("text")

    def clean(self) -> dict[str, Any]:
        held = self.cleaned_data
        if held.get("limit") and not held.get("text") and "text" not in self.errors:
            self.add_error("text", gettext("Say what is looked at."))
        return held

    def draft(self) -> CheckDraft:
        given = self.cleaned_data
        return CheckDraft(**{name: given[name] for name in CheckDraft.__slots__})


class StopForm(PatientForm):
    activity = _activity(_("May not start before it is released"))


CheckRows: type[Rows] = rows_of(CheckForm)
StopRows: type[Rows] = rows_of(StopForm)


class HoldForm(PatientForm):
    title = words(_("What is looked at"), 160, error_messages={"required": _("Say what is looked at.")})
    activity = _activity(_("In which activity"), required=True)
    kind = chips(_("That is"), HoldPoint.Kind.choices)
    signers = forms.CharField(
        label=_("Who signs, one to a line"), max_length=1200, required=False, widget=forms.Textarea(attrs={"rows": 3})
    )
    cost = MoneyField(
        label=_("If it was covered wrong, it costs"), required=False,
        help_text=_("Breaking out, doing it again, the days. It stands on the sheet."),
    )  # fmt: skip
    code = words(_("Number"), 12, required=False, help_text=_("Empty: the next one."))
    note = words(_("Note"), 400, required=False)
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)


class HoldEntry:
    """Everything about one hold point, entered on one page."""

    def __init__(
        self, data: Any, *, project: Project, known: Sequence[Choice], start: HoldDraft, version: int | None = None
    ) -> None:
        data, self.growing = grown(data)
        self.form = HoldForm(data, project=project, initial=_initial(start, known) | {"version": version})
        told = {"form_kwargs": {"project": project}}
        labels = {one.code: one.label for one in known}
        stops = [{"activity": labels.get(code, code)} for code in start.stops]
        checks = [{name: getattr(one, name) for name in CheckDraft.__slots__} for one in start.checks]
        self.stops: Rows = StopRows(data, prefix="stops", initial=stops, **told)
        self.checks: Rows = CheckRows(data, prefix="checks", initial=checks, **told)
        self.stops.extra = 0 if stops else 1
        self.checks.extra = 0 if checks else 2
        for part in (self.form, self.stops, self.checks):
            part.patient = self.growing
        self.form.fields["activity"].known = known  # type: ignore[attr-defined]
        for row in self.stops.forms:
            row.fields["activity"].known = known

    def is_valid(self) -> bool:
        if self.growing:
            return False
        return all([self.form.is_valid(), self.stops.is_valid(), self.checks.is_valid()])

    @property
    def faulty(self) -> bool:
        """Whether something in the rows is wrong, for a word at their head."""
        rows = (self.stops, self.checks)
        return any(part.is_bound and (any(part.errors) or part.non_form_errors()) for part in rows if not self.growing)

    def draft(self) -> HoldDraft:
        given = self.form.cleaned_data
        signers = (line.strip() for line in given["signers"].splitlines())
        return HoldDraft(
            title=given["title"],
            activity=given["activity"],
            stops=tuple(row.cleaned_data["activity"] for row in self.stops.kept),
            signers=tuple(one for one in signers if one),
            checks=tuple(row.draft() for row in self.checks.kept),
            kind=given["kind"],
            cost_if_wrong_minor=given["cost"] or 0,
            note=given["note"],
            code=given["code"],
        )

    def refuse(self, fault: Any) -> None:
        self.form.refuse(fault)


def _initial(start: HoldDraft, known: Sequence[Choice]) -> dict[str, Any]:
    labels = {one.code: one.label for one in known}
    return {
        "title": start.title, "activity": labels.get(start.activity, start.activity), "kind": start.kind,
        "signers": "\n".join(start.signers), "cost": start.cost_if_wrong_minor or None, "code": start.code, "note": start.note,
    }  # fmt: skip


def started(one: StartingHold | None, units: str, *, activity: str = "", stops: tuple[str, ...] = ()) -> HoldDraft:
    """A hold point to start from, with the limits of a starting one in the units of the build; else an empty one."""
    if one is None:
        return HoldDraft(title="", activity=activity, stops=stops)
    checks = tuple(
        CheckDraft(
            gettext(check.text), gettext(check.limit_in(units)), HoldCheck.Source.START, gettext(check.source), check.evidence,
            gettext(check.evidence_named) if check.evidence_named else "",
        )
        for check in one.checks
    )  # fmt: skip
    signers = tuple(gettext(role) for role in one.signers)
    return HoldDraft(gettext(one.title), activity, stops, signers, checks, one.kind)
