"""What a new project's budget starts with: the common trades, to be changed at will, and the contingency."""

from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from budget.models import LineItem, Trade
from budget.services import lines
from projects import trail
from projects.models import Project, User

CONTINGENCY_TRADE = "T99"
CONTINGENCY_LINE = "L9901"


def common_trades() -> list[str]:
    """The trades that most builds have, in the order in which they come on site (common practice, no source)."""
    return [
        _("Preliminaries and site set-up"),
        _("Groundworks and drainage"),
        _("Concrete"),
        _("Masonry"),
        _("Structural steel and metalwork"),
        _("Carpentry and joinery"),
        _("Roofing and cladding"),
        _("Plumbing and pipework"),
        _("Electrical"),
        _("Heating, ventilation and cooling"),
        _("Waterproofing and coatings"),
        _("Plaster, linings and finishes"),
        _("Equipment"),
        _("Fees, permits and insurance"),
    ]


@transaction.atomic
def lay_out(
    project: Project, *, by: User, now: datetime, today: date, contingency_minor: int | None, **_more: Any
) -> None:
    """Give a project that was just started its trades, and its contingency where one is set aside.

    Writes Trade rows, perhaps a LineItem, and trail rows. Not safe to repeat: the codes are then taken.
    Raises: Refused.
    """
    Trade.objects.bulk_create(
        Trade(project=project, code=f"T{place:02d}", name=name, position=place)
        for place, name in enumerate(common_trades(), start=1)
    )
    trail.note(
        project,
        by=by,
        at=now,
        verb="added",
        subject="trade",
        subject_id=None,
        summary=_("Started with the common trades"),
    )
    if contingency_minor:
        draft = lines.LineDraft(
            trade_code=CONTINGENCY_TRADE, trade_name=_("Contingency"), code=CONTINGENCY_LINE, description=_("Contingency"),
            kind=LineItem.Kind.CONTINGENCY, budget_minor=contingency_minor,
        )  # fmt: skip
        lines.add_line(project, draft, by=by, now=now, today=today)
