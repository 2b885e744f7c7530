"""Sequence: the build as bars on a calendar and as a list."""

import re

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from projects.access import Door
from schedule import charts, door, wording
from schedule.selectors import showing
from schedule.selectors.showing import Shown
from schedule.views.asked import asked, whole_number

SHELF = re.compile(r"in-[0-9]{1,6}")


@require_safe
def overview(request: HttpRequest, slug: str) -> HttpResponse:
    """The page; asked by a group's own opener, the rows of that group."""
    opened = door.open_project(request, slug)
    shown = showing.show(
        opened.project,
        asked(request.GET),
        today=opened.today,
        opened=request.GET.get("open", "")[:100],
        start=whole_number(request.GET.get("from")),
    )
    context = {"shown": shown, "seen": shown.seen}
    target = request.headers.get("HX-Target", "")
    if SHELF.fullmatch(target):
        return render(request, "schedule/_shelf.html", context | {"shelf_id": target, "shelf": shown.opened})
    scene = _scene(shown, opened)
    context |= {
        "sentence": wording.sentence(shown.seen, opened.project),
        "figure": charts.sequence(scene) if scene else None,
        "is_folded": scene is not None and scene.is_folded,
    }
    return render(request, "schedule/sequence.html", context)


def _scene(shown: Shown, opened: Door) -> charts.Scene | None:
    if shown.window is None or shown.near is None:
        return None
    return charts.Scene(
        rows=shown.rows, window=shown.window, near=shown.near, rests=shown.rests, near_rests=shown.near_rests,
        today=opened.today, target_on=shown.seen.target_on, finish_on=shown.seen.finish_on, gates=shown.gates,
        locale=opened.project.locale,
    )  # fmt: skip
