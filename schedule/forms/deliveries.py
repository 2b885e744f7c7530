"""Forms about deliveries: the thing itself with its stages, the report of a stage, the promised day."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from projects.forms import DateField, ProjectForm
from schedule.forms import fields
from schedule.models import Activity, Delivery, DeliveryStage, WorkCalendar
from schedule.services.deliveries import MOST_DAYS, PLAIN, DeliveryDraft, StageDraft, draft_of

#: Stages that every thing goes through; the others stand where something was entered for them.
ALWAYS = {DeliveryStage.Kind.ORDERED, DeliveryStage.Kind.ON_SITE}


class DeliveryForm(ProjectForm):
    """A thing that must arrive, and when each of its stages is due."""

    activity = fields.chosen(_("The activity that ends when it is on site"))
    item = fields.words(_("What is delivered"), 160)
    maker = fields.words(_("Who makes it"), 120, required=False)
    carried_by = fields.words(_("How it is carried"), 160, required=False)
    ordered_on = DateField(label=_("Ordered on"), required=False)
    promised_on = DateField(label=_("Promised for"), required=False)
    earliest_on = DateField(label=_("At the earliest"), required=False)
    latest_on = DateField(label=_("At the latest"), required=False)
    lead_days = fields.whole(
        _("Days in the making"), most=MOST_DAYS, help_text=_("Days the maker works. Empty: as long as the activity.")
    )
    road_days = fields.whole(_("Days on the road"), most=MOST_DAYS, help_text=_("Every day counts, with customs."))
    approval_days = fields.whole(
        _("Days before the order"), most=MOST_DAYS, help_text=_("For drawings, samples and the word of those who pay.")
    )
    calendar = fields.chosen(
        _("The maker\u2019s calendar"), required=False, help_text=_("With its closures. Empty: that of the activity.")
    )
    papers = fields.words(_("Papers it needs"), 300, required=False, help_text=_("For the road, customs and the file."))
    note = fields.words(_("Note"), 300, required=False)
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(
        self, *args: Any, activities: Sequence[Activity] = (), calendars: Sequence[WorkCalendar] = (),
        delivery: Delivery | None = None, **kwargs: Any,
    ) -> None:  # fmt: skip
        self.delivery = delivery
        super().__init__(*args, **kwargs)
        if delivery is None:
            self.fields["activity"].choices = fields.activities(activities)
        else:
            del self.fields["activity"]
        self.fields["calendar"].choices = [
            ("", _("that of the activity")),
            *((one.name, one.name) for one in calendars),
        ]
        for kind in DeliveryStage.Kind.values:
            due = DateField(label=_("Due"), required=False)
            due.tie(currency=self.project.currency, locale=self.project.locale)
            self.fields[f"due_{kind}"] = due
            self.fields[f"paper_{kind}"] = fields.words(_("Its paper"), 160, required=False)

    def stages(self) -> list[dict[str, Any]]:
        """The entries of each stage, by its name."""
        return [
            {"label": label, "due": self[f"due_{kind}"], "paper": self[f"paper_{kind}"]}
            for kind, label in DeliveryStage.Kind.choices
        ]

    @property
    def opened(self) -> bool:
        """Whether the lesser entries stand open: of a delivery that is changed, and where something is wrong."""
        return self.delivery is not None or bool(self.is_bound and self.errors)

    def draft(self) -> DeliveryDraft:
        given = self.cleaned_data
        plain = {name: given[name] for name in PLAIN} | {
            "road_days": given["road_days"] or 0,
            "approval_days": given["approval_days"] or 0,
        }
        return DeliveryDraft(calendar=given["calendar"], stages=tuple(self._stages()), **plain)

    def _stages(self) -> list[StageDraft]:
        stood = {one.kind: one for one in draft_of(self.delivery).stages} if self.delivery else {}
        given = self.cleaned_data
        found = []
        for kind in DeliveryStage.Kind:
            before = stood.get(str(kind), StageDraft(str(kind)))
            due_on, paper = given[f"due_{kind}"], given[f"paper_{kind}"]
            done_on = given["ordered_on"] if kind == DeliveryStage.Kind.ORDERED else before.done_on
            there = before.paper_there and paper == before.paper
            if due_on or paper or done_on or kind in ALWAYS:
                found.append(StageDraft(str(kind), due_on, done_on, paper, there))
        return found


def stands(delivery: Delivery) -> dict[str, Any]:
    """A delivery as it stands, as the form's start."""
    draft = draft_of(delivery)
    start = {name: getattr(draft, name) for name in PLAIN}
    start |= {"calendar": draft.calendar, "version": delivery.version}
    for stage in draft.stages:
        start |= {f"due_{stage.kind}": stage.due_on, f"paper_{stage.kind}": stage.paper}
    return start


class StageForm(ProjectForm):
    """When a stage was done, and whether its paper is there."""

    done_on = DateField(label=_("Done on"))
    paper_there = forms.BooleanField(label=_("The paper is there"), required=False)
    finish = forms.BooleanField(
        label=_("Its activity is done with it"),
        required=False,
        help_text=_("What follows may then start the day after."),
    )

    def __init__(self, *args: Any, kind: str, paper: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if paper:
            self.fields["paper_there"].label = _("It is there: %s") % paper
        else:
            del self.fields["paper_there"]
        if kind != DeliveryStage.Kind.ON_SITE:
            del self.fields["finish"]


class PromiseForm(ProjectForm):
    """Why the plan takes over what the maker promised."""

    reason = fields.words(
        _("Why it comes later"), 300, help_text=_("Stays in the trail beside the change of the plan.")
    )
