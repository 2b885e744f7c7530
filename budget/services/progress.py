"""What was seen done of the work, whatever was billed for it."""

from datetime import date, datetime
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext as _

from budget.models import LineItem, Progress
from budget.services.bounds import columns_within_bounds, date_within_bounds, share_within_bounds
from budget.services.ledger import lock
from projects import display, trail
from projects.faults import Refused
from projects.models import Attachment, User


@transaction.atomic
def note_seen(
    line: LineItem,
    *,
    percent: Decimal,
    seen_on: date,
    note: str = "",
    attachment: Attachment | None = None,
    by: User | None,
    now: datetime,
    today: date,
) -> Progress:
    """Write how much of a line's work somebody has seen done.

    Args:
        percent: of the whole of the line's work [%], 0 to 100.
    Writes Progress and a trail row; it moves no money. Not safe to repeat: each call is a further look.
    Raises: Refused, naming the field.
    """
    project = lock(line.project)
    if line.removed_on is not None or line.kind == LineItem.Kind.CONTINGENCY:
        raise Refused(_("There is no work on this line to be seen."))
    share_within_bounds(percent, field="percent", message=_("A percentage lies between 0 and 100."))
    date_within_bounds(seen_on, field="seen_on", latest=today)
    if attachment is not None and attachment.project_id != project.pk:
        raise Refused(_("This file belongs to another project."), field="attachment")
    row = Progress(
        line=line, seen_percent=percent, seen_on=seen_on, note=note.strip(), attachment=attachment, entered_at=now, entered_by=by
    )  # fmt: skip
    columns_within_bounds(row)
    row.save()
    trail.note(
        project, by=by, at=now, verb="saw", subject="progress", subject_id=row.pk,
        summary=_("Saw %(percent)s%% of %(line)s done")
        % {"percent": display.number(percent, project.locale), "line": line},
    )  # fmt: skip
    return row
