"""What an option does to the plan, as rows: an activity takes longer, starts later, waits for another, falls away or is added.

The rows read into and are filled from the plain form that `schedule.calc.alter_json` keeps. What the rows have no entry for,
such as work split in two, is kept as it stands.
"""

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from decisions.selectors.ties import PlanChoices
from projects.forms import DateField
from projects.forms.rows import PatientForm, Rows, grown, rows_of
from projects.models import Project
from schedule.forms.activities import CodeField
from schedule.services.drafting import MOST_DAYS

TAKES, NOT_BEFORE, WAITS, OUT = "takes", "not before", "waits", "out"
WHAT = (
    (TAKES, _("takes … days in all")),
    (NOT_BEFORE, _("cannot start before …")),
    (WAITS, _("also waits for …")),
    (OUT, _("falls away")),
)
#: What the rows have an entry for.
SHOWN = ("duration", "not_before", "links", "remove", "add")


def _activity(label: Any) -> CodeField:
    widget = forms.TextInput(attrs={"list": "activities", "autocomplete": "off"})
    return CodeField(label=label, required=False, max_length=180, widget=widget)


class ChangeForm(PatientForm):
    """One thing that is otherwise about an activity of the plan."""

    activity = _activity(_("Activity"))
    what = forms.ChoiceField(label=_("What becomes of it"), choices=WHAT, required=False)
    days = forms.IntegerField(label=_("Days"), required=False, min_value=0, max_value=MOST_DAYS)
    on = DateField(label=_("Day"), required=False)
    after = _activity(_("Waits for"))

    def is_blank(self) -> bool:
        return not any(self.cleaned_data.get(name) not in (None, "") for name in ("activity", "days", "on", "after"))

    def clean(self) -> dict[str, Any]:
        held = self.cleaned_data
        if self.errors or self.is_blank():
            return held
        if not held["activity"]:
            self.add_error("activity", gettext("Choose the activity."))
        needed = {TAKES: "days", NOT_BEFORE: "on", WAITS: "after"}.get(held["what"])
        if needed and held[needed] in (None, ""):
            words = {
                "days": gettext("Say how many days it takes in all."),
                "on": gettext("Give the day."),
                "after": gettext("Choose what it waits for."),
            }
            self.add_error(needed, words[needed])
        return held


class AddedForm(PatientForm):
    """Work that only this option needs."""

    code = forms.CharField(label=_("Short code"), required=False, max_length=12)
    name = forms.CharField(label=_("What is done"), required=False, max_length=160)
    days = forms.IntegerField(label=_("Days"), required=False, min_value=0, max_value=MOST_DAYS)
    calendar = forms.ChoiceField(label=_("By the calendar"), required=False)
    elapsed = forms.BooleanField(label=_("goes on every day"), required=False)
    after = _activity(_("After"))
    before = _activity(_("Before"))

    def is_blank(self) -> bool:
        return not any(self.cleaned_data.get(name) not in (None, "") for name in ("code", "name", "days"))

    def clean(self) -> dict[str, Any]:
        held = self.cleaned_data
        if self.errors or self.is_blank():
            return held
        if not held["code"]:
            self.add_error("code", gettext("Give it a short code that the plan does not have yet, such as N1."))
        if held["days"] is None:
            self.add_error("days", gettext("Say how many days it takes."))
        return held


ChangeRows, AddedRows = rows_of(ChangeForm), rows_of(AddedForm)


class PlanEntry:
    """The rows of an option's changes to the plan."""

    def __init__(self, data: Any, *, project: Project, choices: PlanChoices, changes: Mapping[str, Any]) -> None:
        data, self.growing = grown(data)
        self.choices, self.stands = choices, changes
        self.asked = data is None or "changed-TOTAL_FORMS" in data
        data = data if self.asked else None
        kwargs = {"project": project}
        self.changed: Rows = ChangeRows(data, prefix="changed", initial=self._changed(), form_kwargs=kwargs)
        self.added: Rows = AddedRows(data, prefix="added", initial=self._added(), form_kwargs=kwargs)
        for row in [*self.changed.forms, self.changed.empty_form]:
            for name in ("activity", "after"):
                row.fields[name].known = choices.works
        calendars = [("", gettext("the project's own")), *((name, name) for name in choices.calendars)]
        for row in [*self.added.forms, self.added.empty_form]:
            row.fields["calendar"].choices = calendars
            for name in ("after", "before"):
                row.fields[name].known = choices.works

    @property
    def parts(self) -> tuple[Rows, ...]:
        """The rows that were asked for; a page of a project without a plan asks for none."""
        return (self.changed, self.added) if self.asked else ()

    @property
    def is_open(self) -> bool:
        """Tell whether there is something to see, so that the page shows it opened."""
        return bool(self.changed.forms or self.added.forms)

    @property
    def kept(self) -> list[str]:
        """What of the changes the rows have no entry for."""
        return [name for name in self.stands if name not in SHOWN]

    def _changed(self) -> list[dict[str, Any]]:
        stands = self.stands
        rows = [{"activity": code, "what": TAKES, "days": days} for code, days in stands.get("duration", {}).items()]
        for code, day in stands.get("not_before", {}).items():
            on = date.fromisoformat(day) - timedelta(days=self._falls_on_its_day(code))
            rows.append({"activity": code, "what": NOT_BEFORE, "on": on})
        added = {one["id"] for one in stands.get("add", ())}
        rows += [
            {"activity": link["id"], "what": WAITS, "after": link["after"]}
            for link in stands.get("links", ())
            if link["after"] not in added
        ]
        return rows + [{"activity": code, "what": OUT} for code in stands.get("remove", ())]

    def _falls_on_its_day(self, code: str) -> bool:
        """The engine lets work begin on the day a milestone may not come before; a person means the day it falls on."""
        return self.choices.days_of(code) == 0

    def _added(self) -> list[dict[str, Any]]:
        before = {link["after"]: link["id"] for link in self.stands.get("links", ())}
        return [
            {
                "code": one["id"],
                "name": one.get("name", ""),
                "days": one["duration"],
                "calendar": one.get("calendar", ""),
                "elapsed": one.get("elapsed", False),
                "after": one["after"][0]["id"] if one.get("after") else "",
                "before": before.get(one["id"], ""),
            }
            for one in self.stands.get("add", ())
        ]

    def changes(self) -> dict[str, Any]:
        """The changes as plain JSON; links keep their kind and lag where the pair stood so already."""
        if not self.asked:
            return dict(self.stands)
        found: dict[str, Any] = {name: self.stands[name] for name in self.kept}
        for row in self.changed.kept:
            self._read(row.cleaned_data, found)
        for row in self.added.kept:
            self._read_added(row.cleaned_data, found)
        return {name: value for name, value in found.items() if value}

    def _read(self, held: Mapping[str, Any], found: dict[str, Any]) -> None:
        code = held["activity"]
        if held["what"] == NOT_BEFORE:
            day = held["on"] + timedelta(days=self._falls_on_its_day(code))
            found.setdefault("not_before", {})[code] = day.isoformat()
        elif held["what"] == WAITS:
            found.setdefault("links", []).append(self._link(code, held["after"]))
        elif held["what"] == OUT:
            found.setdefault("remove", []).append(code)
        else:
            found.setdefault("duration", {})[code] = held["days"]

    def _link(self, waiting: str, after: str) -> dict[str, Any]:
        stood = (link for link in self.stands.get("links", ()) if (link["id"], link["after"]) == (waiting, after))
        return next(stood, {"id": waiting, "after": after})

    def _read_added(self, held: Mapping[str, Any], found: dict[str, Any]) -> None:
        code = held["code"].strip()
        one: dict[str, Any] = {"id": code, "duration": held["days"]}
        one |= {name: held[name] for name in ("name", "calendar", "elapsed") if held[name]}
        if held["after"]:
            one["after"] = self._links_before(code, held["after"])
        found.setdefault("add", []).append(one)
        if held["before"]:
            found.setdefault("links", []).append(self._link(held["before"], code))

    def _links_before(self, code: str, after: str) -> list[dict[str, Any]]:
        stood = next((one.get("after", []) for one in self.stands.get("add", ()) if one["id"] == code), [])
        return stood if stood and stood[0]["id"] == after else [{"id": after}]
