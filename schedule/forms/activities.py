"""The form of an activity: what it is, how long it takes, and what it waits for, a row to a link.

Other activities are named by their codes, which the browser offers from a list; one may type "A12", "A12 · Pour the slab" or
the name alone. Of an activity that stands in the plan the form asks why, where its dates would move.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _

from projects.faults import Refused, Stale
from projects.forms import DateField
from projects.forms.rows import PatientForm, Rows, grown, rows_of
from schedule.models import Activity, Link
from schedule.selectors.editing import Choice, Desk
from schedule.services import drafting
from schedule.services.drafting import LENGTHS, MOST_DAYS, ActivityDraft, LinkDraft

LINK_KINDS = [(kind.value, f"{kind.label} ({kind.value})") for kind in Link.Kind]
OFFERED = {"autocomplete": "off"}


def _words(name: str, label: Any, *, required: bool = False, offered: str = "", **more: Any) -> forms.CharField:
    """A column of text; `offered` names the list of the page that holds what was entered before."""
    widget = forms.TextInput(attrs=OFFERED | {"list": offered}) if offered else forms.TextInput
    return forms.CharField(label=label, max_length=LENGTHS[name], required=required, widget=widget, **more)


class CodeField(forms.CharField):
    """An activity of the plan; cleans to its code."""

    known: Sequence[Choice] = ()

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        folded = " ".join(text.casefold().split())
        if not folded:
            return ""
        by_code = [one.code for one in self.known if folded in {one.code.casefold(), one.label.casefold()}]
        by_name = [one.code for one in self.known if folded == one.name.casefold()]
        found = by_code or by_name
        if len(found) == 1:
            return found[0]
        words = _("More than one activity is called “%s”; give its code.") if found else None
        raise ValidationError(
            (words or _("There is no activity “%s” in the plan; choose one from the list.")) % text[:40]
        )


class LinkForm(PatientForm):
    """What the activity waits for, and how."""

    before = CodeField(
        label=_("Waits for"),
        required=False,
        max_length=180,
        widget=forms.TextInput(attrs=OFFERED | {"list": "activities"}),
    )
    kind = forms.ChoiceField(label=_("How"), choices=LINK_KINDS, initial=Link.Kind.FS)
    lag = forms.IntegerField(
        label=_("Days between"), required=False, min_value=-MOST_DAYS, max_value=MOST_DAYS,
        help_text=_("A minus where it may overlap."),
    )  # fmt: skip
    elapsed = forms.BooleanField(label=_("calendar days"), required=False)

    def is_blank(self) -> bool:
        return not self.cleaned_data.get("before") and not self.cleaned_data.get("lag")

    def clean(self) -> dict[str, Any]:
        held = self.cleaned_data
        if held.get("lag") and not held.get("before") and "before" not in self.errors:
            self.add_error("before", gettext("Choose what it waits for."))
        return held

    def draft(self) -> LinkDraft:
        held = self.cleaned_data
        return LinkDraft(held["before"], held["kind"], held["lag"] or 0, held["elapsed"])


LinkRows: type[Rows] = rows_of(LinkForm)


class ActivityForm(PatientForm):
    code = _words("code", _("Code"), required=True)
    name = _words("name", _("What is done"), required=True, error_messages={"required": _("Say what is done.")})
    kind = forms.ChoiceField(label=_("That is"), choices=Activity.Kind.choices, widget=forms.RadioSelect)
    days = forms.IntegerField(
        label=_("Takes"), min_value=0, max_value=MOST_DAYS, help_text=_("0 for a milestone."),
        error_messages={"required": _("Say how many days it takes; 0 for a milestone.")},
    )  # fmt: skip
    calendar = forms.ChoiceField(label=_("Works by the calendar"), required=False)
    elapsed = forms.BooleanField(label=_("Goes on every day, such as curing, drying or a crossing"), required=False)
    not_before_on = DateField(label=_("Not before"), required=False)
    not_before_why = _words("not_before_why", _("Why not before"))
    trade = _words("trade", _("Trade"), offered="trades")
    area = _words("area", _("Area"), offered="areas")
    covers = forms.BooleanField(
        label=_("Covers: buries or fixes what is under it"), required=False,
        help_text=_("It can then be asked whether it may cover, with the hold points before it."),
    )  # fmt: skip
    weather = forms.BooleanField(label=_("Depends on the weather"), required=False)
    notice_days = forms.IntegerField(
        label=_("Notice to give"), required=False, min_value=0, max_value=MOST_DAYS,
        help_text=_("Working days that whoever attends asks for."),
    )  # fmt: skip
    attended_by = _words("attended_by", _("Attended by"), help_text=_("Inspector, engineer, crane, pump."))
    note = forms.CharField(
        label=_("Note"), max_length=LENGTHS["note"], required=False, widget=forms.Textarea(attrs={"rows": 3})
    )
    reason = forms.CharField(label=_("Why it changes"), max_length=200, required=False)
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    #: What stays behind "More" unless it is filled in.
    MORE = ("covers", "weather", "notice_days", "attended_by", "note")

    def __init__(self, *args: Any, desk: Desk, standing: ActivityDraft | None, **kwargs: Any) -> None:
        super().__init__(*args, project=desk.project, **kwargs)
        own = gettext("the project's own: %s") % (desk.own_calendar or gettext("Monday to Friday"))
        self.fields["calendar"].choices = [("", own), *((name, name) for name in desk.calendars)]  # type: ignore[attr-defined]
        if standing is None:
            del self.fields["reason"]
        else:
            del self.fields["code"]

    @property
    def opened(self) -> bool:
        """Whether something behind "More" is filled in or wrong."""
        return any(self[name].errors or self[name].value() not in (None, "", False, 0) for name in self.MORE)


class ActivityEntry:
    """Everything about one activity, entered on one page."""

    def __init__(
        self, data: Any, *, desk: Desk, standing: ActivityDraft | None = None, version: int | None = None
    ) -> None:
        data, self.growing = grown(data)
        self.desk, self.standing = desk, standing
        first = _initial(standing, version) if standing else {"code": desk.next_code, "kind": Activity.Kind.WORK}
        self.form = ActivityForm(data, desk=desk, standing=standing, initial=first)
        self.links: Rows = LinkRows(
            data, prefix="links", initial=_links(standing, desk), form_kwargs={"project": desk.project}
        )
        self.links.extra = 0 if standing and standing.after else 1
        for part in (self.form, self.links):
            part.patient = self.growing
        self._offer()

    def _offer(self) -> None:
        others = [one for one in self.desk.activities if self.standing is None or one.code != self.standing.code]
        for row in self.links.forms:
            row.fields["before"].known = others

    def is_valid(self) -> bool:
        if self.growing:
            return False
        valid = [self.form.is_valid(), self.links.is_valid()]
        return all(valid) and self._is_explained()

    def _is_explained(self) -> bool:
        """A change that moves dates says why."""
        if self.standing is None or self.form.cleaned_data["reason"]:
            return True
        if drafting.moves_dates(self.standing, self.draft()):
            self.form.add_error("reason", gettext("Its dates follow from what you change; say why, for the trail."))
            return False
        return True

    @property
    def reason(self) -> str:
        return self.form.cleaned_data.get("reason", "")

    @property
    def faulty_links(self) -> bool:
        """Whether something about the links is wrong, for a word at their head."""
        return (
            self.links.is_bound and not self.growing and (any(self.links.errors) or bool(self.links.non_form_errors()))
        )

    def draft(self) -> ActivityDraft:
        held = self.form.cleaned_data
        plain = {name: held[name] for name in drafting.PLAIN if name not in ("code", "notice_days")}
        return ActivityDraft(
            code=self.standing.code if self.standing else held["code"],
            notice_days=held["notice_days"] or 0,
            calendar=held["calendar"],
            after=tuple(row.draft() for row in self.links.kept),
            **plain,
        )

    def refuse(self, fault: Refused) -> None:
        """Show why the plan refused; of somebody else's change also what waits for what now."""
        self.form.refuse(fault)
        if isinstance(fault, Stale):
            self.form.theirs["after"] = ", ".join(link_words(link) for link in fault.theirs["after"]) or gettext(
                "nothing"
            )


def _initial(standing: ActivityDraft, version: int | None) -> dict[str, Any]:
    plain = {name: getattr(standing, name) for name in (*drafting.PLAIN, "calendar")}
    return plain | {"notice_days": standing.notice_days or None, "version": version}


def _links(standing: ActivityDraft | None, desk: Desk) -> list[Mapping[str, Any]]:
    labels = {one.code: one.label for one in desk.activities}
    links = standing.after if standing else ()
    return [{"before": labels.get(one.before, one.before), "kind": one.kind, **_lag(one)} for one in links]


def _lag(link: LinkDraft) -> dict[str, Any]:
    """Days between; where there are none, of which kind they would be says nothing."""
    return {"lag": link.lag_days or None, "elapsed": bool(link.lag_days) and link.lag_elapsed}


def link_words(link: Sequence[Any]) -> str:
    """A link as the trail keeps it, in words: "A12 (SS, 3 days)"."""
    before, kind, lag, elapsed = link
    days = (
        ngettext("%(n)d calendar day", "%(n)d calendar days", lag)
        if elapsed
        else ngettext("%(n)d day", "%(n)d days", lag)
    )
    told = [kind] if kind != Link.Kind.FS else []
    told += [days % {"n": lag}] if lag else []
    return f"{before} ({', '.join(told)})" if told else before


class RemoveForm(PatientForm):
    reason = forms.CharField(
        label=_("Why it is left out"), max_length=200, error_messages={"required": _("Say why, for the trail.")}
    )


class StartForm(PatientForm):
    """When the plan starts, and by which calendar work goes that has none of its own."""

    starts_on = DateField(label=_("The work starts on"))
    calendar = forms.ChoiceField(label=_("Work without a calendar of its own goes by"), required=False)
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, calendars: Sequence[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        names = [(name, name) for name in calendars]
        self.fields["calendar"].choices = [("", gettext("Monday to Friday")), *names]  # type: ignore[attr-defined]
