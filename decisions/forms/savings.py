"""Entering into the savings book: a new entry, an entry taken further."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from decisions.forms.rows import CodeField
from decisions.models import BookEntry, Decision, SavingKind
from decisions.selectors.entry import LineChoice
from decisions.services import book
from projects.forms import MoneyField, ProjectForm


class EntryForm(ProjectForm):
    """An own entry of the book."""

    line = CodeField(label=_("Line of the budget"))
    what = forms.CharField(
        label=_("What is saved, put off or added"), max_length=200, help_text=_("Second maker, same scope.")
    )  # fmt: skip
    kind = forms.ChoiceField(label=_("What kind"), choices=[(kind.value, kind.label) for kind in book.KINDS])
    how = forms.ChoiceField(
        label=_("How it came about"), required=False, choices=[("", _("not said")), *BookEntry.How.choices],
        help_text=_("For the same function for less."),
    )  # fmt: skip
    amount = MoneyField(
        label=_("Amount"), required=False, negative=True,
        help_text=_("Above zero for saved, below zero for an extra. An idea may have none yet."),
    )  # fmt: skip
    state = forms.ChoiceField(label=_("How far it is"), choices=BookEntry.State.choices, widget=forms.RadioSelect)
    decision = forms.ChoiceField(
        label=_("Open decision it belongs to"), required=False,
        help_text=_("For ideas alone: once the decision is taken, its record holds what it saves."),
    )  # fmt: skip
    note = forms.CharField(label=_("Note"), required=False, max_length=300)

    def __init__(self, *args: Any, budget: tuple[LineChoice, ...], decisions: list[Decision], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["line"].known = budget  # type: ignore[attr-defined]
        named = [(str(row.pk), f"{row.code} {row.title}") for row in decisions]
        self.fields["decision"].choices = [("", _("none")), *named]  # type: ignore[attr-defined]

    def draft(self) -> book.EntryDraft:
        held = self.cleaned_data
        return book.EntryDraft(
            kind=held["kind"],
            line_id=held["line"],
            what=held["what"],
            amount_minor=held["amount"] or 0,
            state=held["state"],
            how=held["how"] if held["kind"] == SavingKind.SAME_FOR_LESS else "",
            note=held["note"],
            decision_id=int(held["decision"]) if held["decision"] else None,
        )


class FurtherForm(ProjectForm):
    """How far an entry has come, and what it comes to now."""

    state = forms.ChoiceField(label=_("How far it is"), choices=BookEntry.State.choices, widget=forms.RadioSelect)
    amount = MoneyField(label=_("Amount"), required=False, negative=True, help_text=_("Empty: as before."))
    note = forms.CharField(label=_("Note"), required=False, max_length=300)


class TakeBackForm(ProjectForm):
    reason = forms.CharField(label=_("Why it is taken back"), max_length=300)
