"""Photographs and documents that come with a form."""

from collections.abc import Sequence
from typing import Any

from django.http import HttpRequest

from budget.selectors import pages
from budget.views.asked import ids
from projects import said
from projects.access import Door
from projects.faults import Refused
from projects.services.files import add_attachment


def kept(opened: Door, request: HttpRequest, form: Any) -> Sequence[Any]:
    """What was sent with the form is kept at once, so that a refusal does not lose a photograph."""
    found = list(pages.attachments(opened.project, ids(request.POST.getlist("kept"))))
    for file in request.FILES.getlist("files"):
        try:
            found.append(add_attachment(opened.project, file, by=opened.user, now=opened.now))
        except Refused as fault:
            if form.patient:
                said.refused(request, fault.message)
            else:
                form.add_error("files", fault.message)
    return found
