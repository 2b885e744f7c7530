"""Forms about the contingency: moving budget, giving it back, risks, and closing a line."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from budget.forms import fields
from budget.models import Change, LineItem, Risk
from budget.selectors.purses import Holding
from budget.services.risks import LONGEST_DAYS, RiskDraft
from projects import display
from projects.forms import ChanceField, DateField, MoneyField, ProjectForm
from projects.models import Project

#: What is not taken from the contingency: a wish is paid beside it, and a cut costs nothing.
NO_NEEDS = {Change.Reason.WISH, Change.Reason.CUT}
NEEDS = [(value, label) for value, label in Change.Reason.choices if value not in NO_NEEDS]
NONE = "none"


def _grouped(holdings: Sequence[Holding], project: Project, *, told: bool) -> list[Any]:
    """Lines to choose from, by trade; each with what it holds where that is told."""
    groups: dict[str, list[tuple[str, str]]] = {}
    for one in holdings:
        held = f" · {display.money(one.held_minor, project, brief=True)}" if told else ""
        groups.setdefault(one.trade, []).append((str(one.line_id), f"{one.name}{held}"))
    return [("", _("choose")), *groups.items()]


class MoveForm(ProjectForm):
    """Budget from one open line to another."""

    from_line = fields.chosen(_("From"), help_text=_("Each line with the budget that it holds."))
    to_line = fields.chosen(_("To"))
    amount = MoneyField(label=_("Amount"))
    need = fields.chips(
        _("What it is needed for"), [(NONE, _("it does not leave the contingency")), *NEEDS],
        help_text=_("An owner\u2019s wish is not among these: it is paid beside the pot."),
    )  # fmt: skip
    reason = fields.words(_("Why"), 300)

    def __init__(self, *args: Any, sources: Sequence[Holding], targets: Sequence[Holding], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["from_line"].choices = _grouped(sources, self.project, told=True)
        self.fields["to_line"].choices = _grouped(targets, self.project, told=False)
        if all(one.kind == LineItem.Kind.CONTINGENCY for one in sources):
            self.fields["need"].choices = NEEDS

    def asked(self) -> dict[str, Any]:
        given = self.cleaned_data
        return {
            "from_line_id": int(given["from_line"]),
            "to_line_id": int(given["to_line"]),
            "amount_minor": given["amount"],
            "need": "" if given["need"] == NONE else given["need"],
            "reason": given["reason"],
        }


class GiveBackForm(ProjectForm):
    """What a closed line gives back; which contingency is asked only where there are several."""

    amount = MoneyField(label=_("Amount"))
    to_line = fields.chosen(_("To which contingency"))
    reason = fields.words(_("Why"), 300)

    def __init__(self, *args: Any, pots: Sequence[Holding], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if len(pots) > 1:
            self.fields["to_line"].choices = _grouped(pots, self.project, told=True)
        else:
            del self.fields["to_line"]

    def asked(self) -> dict[str, Any]:
        given = self.cleaned_data
        target = given.get("to_line")
        return {
            "amount_minor": given["amount"],
            "to_line_id": int(target) if target else None,
            "reason": given["reason"],
        }


class RiskForm(ProjectForm):
    what = fields.words(_("What may happen"), 200)
    chance = ChanceField(label=_("Chance"), help_text=_("That it happens before the opening, in per cent."))
    cost = MoneyField(label=_("What it would cost"), help_text=_("Work and goods; the days are priced by themselves."))
    days = forms.IntegerField(
        label=_("Days it would take"), required=False, min_value=0, max_value=LONGEST_DAYS,
        help_text=_("Calendar days by which the opening would move."),
    )  # fmt: skip
    line = fields.chosen(_("Line"), required=False)
    owner = fields.words(_("Who watches it"), 120, required=False)
    response = fields.words(_("What is done about it"), 300, required=False)
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, lines: Sequence[Holding], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["line"].choices = _grouped(lines, self.project, told=False)

    def clean_days(self) -> int:
        return self.cleaned_data["days"] or 0

    def draft(self) -> RiskDraft:
        given = self.cleaned_data
        return RiskDraft(
            what=given["what"],
            chance=given["chance"],
            cost_minor=given["cost"],
            days=given["days"],
            line_id=int(given["line"]) if given["line"] else None,
            owner=given["owner"],
            response=given["response"],
        )


class CloseRiskForm(ProjectForm):
    state = fields.chips(
        _("How it went"),
        [(Risk.State.HAPPENED, _("it happened")), (Risk.State.CLOSED, _("it can no longer happen"))],
    )
    change = fields.chosen(
        _("The change it became"), required=False, help_text=_("Where a change was logged for it already.")
    )
    note = fields.words(_("In a sentence"), 300)
    version = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, changes: Sequence[Change], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["change"].choices = [("", _("none")), *((str(change.pk), str(change)) for change in changes)]

    def asked(self) -> dict[str, Any]:
        given = self.cleaned_data
        change = given["change"]
        return {
            "state": given["state"],
            "change_id": int(change) if change else None,
            "note": given["note"],
            "version": given["version"],
        }


class CloseLineForm(ProjectForm):
    """The day of the final account; what was never billed has to be explained."""

    closed_on = DateField(label=_("Final account agreed on"))
    note = fields.words(_("With whom, and how"), 300, required=False)
    version = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, unbilled: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if unbilled:
            self.fields["note"].required = True
            self.fields["note"].label = _("Why the account ends elsewhere, and who agreed to it")
