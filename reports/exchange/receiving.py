"""A sheet as it is handed in: read, and kept as a preview."""

import hashlib
from datetime import datetime

from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext as _

from budget.models import ImportBatch
from budget.services import imports
from projects.faults import Refused
from projects.models import Project, User
from reports.sheets import reading


def receive(project: Project, upload: UploadedFile, *, kind: str, sheet: str, by: User, now: datetime) -> ImportBatch:
    """Read an uploaded sheet and keep it as a preview. Writes ImportBatch. Raises: Refused, naming the mend."""
    if (upload.size or 0) > reading.MOST_BYTES:
        raise Refused(_("The file is larger than 10 MB; take out what is not needed, or split it."), field="file")
    data = upload.read()
    own = "" if kind in (ImportBatch.Kind.QUOTES, ImportBatch.Kind.INVOICES) else project.currency
    found = reading.read(data, sheet=sheet, own=own)
    return imports.start(
        project, kind, found.grid, file_name=upload.name or "", sha256=hashlib.sha256(data).hexdigest(),
        about={"name": found.name, "others": list(found.others)}, by=by, now=now,
    )  # fmt: skip
