"""The forms of changes: writing one down on site, pricing it anew, answering it.

The form that writes one down asks for as little as it can: a credit is chosen and not typed with a minus, which a
phone's figures lack; where the money comes from follows from the reason unless somebody says otherwise.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from budget.forms import fields
from budget.forms.fields import PatientForm
from budget.forms.quotes import ExpectedMoney
from budget.models import Change
from budget.selectors.changes import Place
from budget.services.change_rules import LONGEST_DAYS
from budget.services.changes import ChangeDraft
from projects import display
from projects.forms import ChanceField, DateField, MoneyField, ProjectForm
from projects.forms.files import ManyFiles, ManyFilesField
from projects.models import Project

PRICE, CEILING, CREDIT = "price", "ceiling", "credit"
WAYS = [
    (PRICE, _("more, at this price")),
    (CEILING, _("more, at most this")),
    (CREDIT, _("less: a credit")),
]
OWN = "own"
CHANCES = [
    ("1", _("certain")),
    ("0.9", _("nearly, 90 %")),
    ("0.75", _("likely, 75 %")),
    ("0.5", _("even, 50 %")),
    ("0.25", _("rather not, 25 %")),
    ("0.1", _("hardly, 10 %")),
    (OWN, _("other")),
]
NOTHING = ""


@dataclass(frozen=True)
class Desk:
    """What the form has to know of the project: the lines that may be changed, and what one of them leaves open."""

    project: Project
    lines: Sequence[tuple[str, Sequence[tuple[int, str]]]]
    places: Sequence[Place]
    asked_by: Sequence[str]
    may_agree: bool

    @property
    def line_ids(self) -> set[int]:
        return {pk for _trade, rows in self.lines for pk, _name in rows}


class FiguresForm(PatientForm):
    """What a change costs, takes, and how likely it is; one that costs days alone needs no amount."""

    amount = ExpectedMoney(label=_("Amount"))
    way = fields.chips(_("That is"), WAYS)
    days = forms.IntegerField(
        label=_("The work takes longer by"), required=False, min_value=-LONGEST_DAYS, max_value=LONGEST_DAYS,
        help_text=_("Calendar days; a minus where it saves some."),
    )  # fmt: skip
    chance = fields.chips(_("That it has to be paid is"), CHANCES)
    own_chance = ChanceField(label=_("Chance"), required=False)

    def clean(self) -> dict[str, Any]:
        given = super().clean() or self.cleaned_data
        if given.get("chance") == OWN and given.get("own_chance") is None and "own_chance" not in self.errors:
            self.add_error("own_chance", _now("Give the chance, from 0 to 100."))
        return given

    def figures(self) -> dict[str, Any]:
        """The figures as the services take them: a credit is below zero, an empty entry is none."""
        given = self.cleaned_data
        amount, way = given["amount"] or 0, given["way"]
        return {
            "amount_minor": -amount if way == CREDIT else amount,
            "is_ceiling": way == CEILING,
            "days": given["days"] or 0,
            "chance": given["own_chance"] if given["chance"] == OWN else Decimal(given["chance"]),
        }


class RaiseForm(FiguresForm):
    """A change as somebody on site writes it down."""

    line = forms.ChoiceField(label=_("Line"), error_messages={"required": _("Choose the line that it alters.")})
    title = fields.words(_("What is to be done"), 200, error_messages={"required": _("Say what is to be done.")})
    files = ManyFilesField(
        label=_("Photograph"), required=False,
        widget=ManyFiles(attrs={"accept": "image/*,application/pdf", "multiple": True}),
    )  # fmt: skip
    reason = fields.chips(_("Why"), Change.Reason.choices, error_messages={"required": _("Say why it is needed.")})
    stands_for = fields.chips(_("Does it price something that is counted already"), [], required=False)
    asked_by = fields.words(
        _("Who asked for it"), 160, required=False, widget=forms.TextInput(attrs={"list": "askers", "autocomplete": "off"})
    )  # fmt: skip
    paid_from = fields.chips(
        _("Who pays"),
        [(NOTHING, _("as usual: the contingency, a wish by an owner")), *Change.Source.choices],
        required=False,
    )
    note = fields.long_words(_("Note"), 2000)
    code = fields.words(_("Number"), 12, required=False, help_text=_("Empty: the next one."))
    raised_on = DateField(label=_("Asked for on"))
    agree = forms.BooleanField(label=_("I agree to it now, if my limit allows"), required=False)
    again = forms.BooleanField(label=_("It is a further change, write it down all the same"), required=False)

    field_order = ("line", "stands_for", "title", "files", "reason", "amount", "way")
    #: What stays behind "More" unless it is filled in.
    MORE = ("paid_from", "note", "code")

    def __init__(self, desk: Desk, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, project=desk.project, **kwargs)
        self.desk = desk
        groups: list[Any] = [("", _now("choose the line")), *((trade, list(rows)) for trade, rows in desk.lines)]
        self.fields["line"].choices = groups
        if desk.places:
            self.fields["stands_for"].choices = [(NOTHING, _now("no, it is new")), *map(self._offered, desk.places)]
        else:
            del self.fields["stands_for"]
        if not desk.may_agree:
            del self.fields["agree"]

    def _offered(self, place: Place) -> tuple[str, str]:
        words = (
            _now("the open piece: %(name)s (%(amount)s)") if place.is_gap else _now("the effect: %(name)s (%(amount)s)")
        )
        amount = display.money(place.amount, self.project, brief=True)
        return place.key, words % {"name": place.name, "amount": amount}

    @property
    def opened(self) -> bool:
        """Whether something behind "More" is filled in or wrong."""
        return any(self[name].errors or self[name].value() not in (None, "") for name in self.MORE)

    def draft(self, attachments: Sequence[int]) -> ChangeDraft:
        given = self.cleaned_data
        kind, _dash, number = given.get("stands_for", "").partition("-")
        return ChangeDraft(
            line_id=int(given["line"]),
            title=given["title"],
            reason=given["reason"],
            paid_from=given["paid_from"],
            asked_by=given["asked_by"],
            note=given["note"],
            gap_id=int(number) if kind == "gap" else None,
            knock_on_id=int(number) if kind == "effect" else None,
            code=given["code"],
            raised_on=given["raised_on"],
            attachment_ids=tuple(attachments),
            **self.figures(),
        )


def start(desk: Desk, asked: Mapping[str, Any], today: Any) -> dict[str, Any]:
    """How the form starts: today, certain, at a price; for the line and the open piece that a link names."""
    first = {"way": PRICE, "chance": "1", "raised_on": today, "stands_for": NOTHING, "paid_from": NOTHING}
    place = next((one for one in desk.places if one.key == asked.get("for")), None)
    if place is None:
        return first | {"line": asked.get("line", "")}
    named = {"line": asked.get("line", ""), "stands_for": place.key, "title": place.name[:200]}
    reason = {"reason": Change.Reason.GAP} if place.is_gap else {}
    way = CREDIT if place.amount < 0 else PRICE
    return first | named | reason | {"amount": abs(place.amount), "way": way}


class PriceForm(FiguresForm):
    """The figures of a change said anew."""

    note = fields.words(_("Why, or what it rests on"), 500, required=False)
    version = forms.IntegerField(widget=forms.HiddenInput)


def figures_of(change: Change) -> dict[str, Any]:
    """The figures of a change as its form shows them."""
    listed = next((value for value, _words in CHANCES if value != OWN and Decimal(value) == change.chance), OWN)
    way = CREDIT if change.amount_minor < 0 else CEILING if change.is_ceiling else PRICE
    return {
        "amount": abs(change.amount_minor), "way": way, "days": change.days or None, "chance": listed, "own_chance": change.chance,
        "version": change.version,
    }  # fmt: skip


class AgreeForm(ProjectForm):
    """Yes, perhaps at another price; a wish is not offered the contingency."""

    amount = MoneyField(label=_("Agreed at"), negative=True)
    on = DateField(label=_("Agreed on"))
    paid_from = fields.chips(_("Who pays"), Change.Source.choices)
    note = fields.words(_("Note"), 500, required=False)
    version = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, reason: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        barred = {Change.Source.CONTINGENCY.value} if reason == Change.Reason.WISH else set()
        self.fields["paid_from"].choices = [one for one in Change.Source.choices if one[0] not in barred]


class AnswerForm(ProjectForm):
    """Words that go with a deed, and the version that was looked at."""

    note = fields.words(_("Why"), 500)
    version = forms.IntegerField(widget=forms.HiddenInput)


class WithdrawForm(AnswerForm):
    note = fields.words(_("Why"), 500, required=False)


class FilesForm(PatientForm):
    """Further photographs, or the paper once it is signed."""

    files = ManyFilesField(
        label=_("A further photograph, or the signed paper"),
        widget=ManyFiles(attrs={"accept": "image/*,application/pdf", "multiple": True}),
    )

    def clean_files(self) -> list[Any]:
        if not self.cleaned_data["files"]:
            raise forms.ValidationError(_now("Choose a file."))
        return self.cleaned_data["files"]
