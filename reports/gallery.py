"""The gallery: every piece that pages are put together from, on one page, with invented figures.

Only in local mode. It is where a change of the look is seen first, and what a test opens to see that every piece works
without a single complaint from the browser.
"""

from dataclasses import dataclass, field
from datetime import date
from types import SimpleNamespace

from django import forms
from django.conf import settings
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext_lazy as _

from budget import charts as budget_charts
from decisions import charts as decision_charts
from projects import said


@dataclass(frozen=True, slots=True)
class ShownDoor:
    """Stands in for an open project, so that rail and figures have something to show."""

    project: SimpleNamespace = field(
        default_factory=lambda: SimpleNamespace(
            name="Tank hall", slug="gallery", currency="GBP", locale="en-GB", cost_of_day_minor=90_000
        )
    )
    role: str = "lead"
    today: date = date(2027, 1, 29)


class ShownForm(forms.Form):
    vendor = forms.CharField(label=_("Vendor"), help_text=_("As it stands on the quote."))
    amount = forms.CharField(label=_("Amount"), widget=forms.TextInput(attrs={"inputmode": "decimal"}))
    days = forms.IntegerField(label=_("Lead time"), required=False)
    basis = forms.ChoiceField(
        label=_("How firm is it"),
        choices=[("firm", _("firm")), ("estimate", _("an estimate")), ("rates", _("rates only"))],
        widget=forms.RadioSelect,
    )
    line = forms.ChoiceField(label=_("Line item"), choices=[("", "–"), ("1", _("Tank frame")), ("2", _("Grouting"))])
    note = forms.CharField(label=_("Note"), required=False, widget=forms.Textarea(attrs={"rows": 3}))
    freight = forms.BooleanField(label=_("Freight is in the price"), required=False)
    photo = forms.FileField(
        label=_("Photograph or PDF"),
        required=False,
        widget=forms.FileInput(attrs={"accept": "image/*,application/pdf"}),
    )


class ShownRow(forms.Form):
    item = forms.CharField(label=_("What"))
    amount = forms.CharField(label=_("Amount"), widget=forms.TextInput(attrs={"inputmode": "decimal"}))


SHOWN_ROWS = forms.formset_factory(ShownRow, extra=2, can_delete=True)

TRADES = (
    ("T01", _("Concrete"), 6_240_000, 5_980_050, 5_790_000, 5_862_000, -378_000, -118_050),
    ("T05", _("Steel and tank frame"), 4_995_000, 4_995_000, 3_745_000, 3_745_000, -1_250_000, -1_250_000),
    ("T09", _("Plumbing and life support"), 8_800_000, 9_012_575, None, 9_120_575, 320_575, 108_000),
    ("T12", _("Panels"), 9_000_000, None, None, 9_185_000, 185_000, None),
)
STEPS = (
    (_("First budget"), 34_120_000, 34_120_000),
    (_("Quotes came in"), 871_000, 34_991_000),
    (_("Decisions"), -2_640_000, 32_351_000),
    (_("Changes"), 412_500, 32_763_500),
    (_("Invoices"), 0, 32_763_500),
    (_("Re-forecasts"), 290_700, 33_054_200),
    (_("Scope"), -120_000, 32_934_200),
    (_("Likely final"), 32_934_200, 32_934_200),
)
OPTIONS: tuple[decision_charts.Row, ...] = (
    {
        "name": "B Galvanised frame on 15 adjustable feet",
        "parts": {"first": 3_745_000, "effects": 190_000, "days": 0, "correction": 57_000, "running": 360_000},
    },
    {
        "name": "A Concrete plinth",
        "parts": {"first": 4_995_000, "effects": -60_000, "days": 180_000, "correction": 445_500, "running": 0},
    },
    {
        "name": "C Timber frame <treated>",
        "parts": {"first": 3_100_000, "effects": 820_000, "days": 540_000, "correction": 96_000, "running": 610_000},
    },
)


def _forms(request: HttpRequest) -> dict[str, object]:
    faulty = ShownForm({"faulty-amount": "12,4", "faulty-days": "soon"}, prefix="faulty")
    faulty.is_valid()
    return {"form": ShownForm(), "faulty": faulty, "rows": SHOWN_ROWS(prefix="rows")}


def gallery(request: HttpRequest) -> HttpResponse:
    if not settings.LOCAL:
        raise Http404
    said.done(request, str(_("The likely final of Tank frame moved from £49,950 to £37,450.")), undo="/gallery/")
    said.watch_out(request, str(_("This quote ran out on Mon 25 January 2027; it is kept, but does not count.")))
    steps = [(str(label), amount, running) for label, amount, running in STEPS]
    door = ShownDoor()
    shown = {
        "door": door,
        "trades": TRADES,
        "bridge": budget_charts.bridge(steps, project=door.project),
        "options": decision_charts.options(OPTIONS, project=door.project),
        "page_obj": Paginator(range(90), 30).get_page(2),
        "messages": messages.get_messages(request),
    }
    return render(request, "gallery.html", shown | _forms(request))
