"""Issuing a report: the owners' page is frozen, hashed, and kept as a PDF."""

import json
from datetime import date, datetime

from django.core.files.base import ContentFile
from django.db import transaction
from django.utils.translation import gettext as _

from budget.models import Movement
from decisions.calc.sealing import canonical, hash_of
from projects import trail
from projects.faults import Refused
from projects.models import Attachment, Project, User
from projects.services import files
from projects.services.locks import lock
from reports.models import IssuedReport
from reports.pdf import setting, words
from reports.selectors import issued, owners


@transaction.atomic
def issue(project: Project, *, note: str, by: User, now: datetime, today: date) -> IssuedReport:
    """Freeze the owners' page as it stands.

    Args:
        note: a word to the owners at its head, or "".
    Writes IssuedReport, an Attachment with the PDF, and trail rows. Repeating is refused while nothing has changed.
    Raises: Refused.
    """
    held, note = lock(project), note.strip()
    if len(note) > 300:
        raise Refused(_("At most 300 letters are kept here."), field="note")
    last = issued.last_report(held)
    content = _as_kept(owners.content(held, on=today, last=last)) | {"note": note}
    _says_something_new(content, last)
    number = last.number + 1 if last else 1
    kept = content | {"number": number, "issued_by": by.called}
    text = canonical(kept)
    report = IssuedReport.objects.create(
        project=held, number=number, note=note, issued_on=today, issued_at=now, issued_by=by, issued_by_name=by.called,
        content=text, sha256=hash_of(text), likely_minor=content["total"]["likely"],
        pdf=_pdf(held, kept, by=by, now=now, on=today),
        up_to=Movement.objects.filter(project=held).order_by("pk").last(),
    )  # fmt: skip
    trail.note(
        held, by=by, at=now, verb="issued", subject="report", subject_id=report.pk,
        summary=_("Issued report %s to the owners") % number, details={"sha256": report.sha256},
    )  # fmt: skip
    return report


def _as_kept(content: owners.Content) -> owners.Content:
    """The content as JSON gives it back, without the numbers by which the pages of today are found."""
    kept = json.loads(canonical(content))
    for row in [*kept["asked"], *kept["taken"]]:
        del row["id"]
    return kept


def _says_something_new(content: owners.Content, last: IssuedReport | None) -> None:
    if not content["total"]["lines"]:
        raise Refused(_("There is no budget yet; a report would say nothing."))
    if last is not None:
        was = json.loads(last.content)
        same = all(was.get(name) == value for name, value in content.items() if name not in ("since", "note"))
        if same and content["note"] in ("", last.note):
            raise Refused(_("Report %s says all of this already; nothing has changed since.") % last.number)


def stamp(content: owners.Content) -> str:
    """What an issued paper bears at its foot: its number and who issued it."""
    return _("report %(number)s, issued by %(who)s") % {"number": content["number"], "who": content["issued_by"]}


def _pdf(project: Project, content: owners.Content, *, by: User, now: datetime, on: date) -> Attachment:
    made = setting.as_pdf(words.paper(content, stamp=stamp(content)), on=on)
    upload = ContentFile(made, name=f"owners-{content['number']}-{on.isoformat()}.pdf")
    return files.add_attachment(project, upload, by=by, now=now)
