"""A hold point as the words of a sheet of paper: what is looked at, what was found before, and room for what is found."""

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any

from django.utils.translation import gettext as _

from projects import display
from projects.models import Project
from reports.pdf.pieces import Part
from schedule import wording_holds
from schedule.calc.gates import Work
from schedule.selectors.holds import Hold, Seen, Signer


def paper(hold: Hold, checks: Sequence[Seen], *, project: Project, on: date) -> Part:
    """Write the sheet of one hold point."""
    cost = display.money(hold.gate.cost_if_wrong_minor, project, brief=True)
    return {
        "lang": project.locale.partition("-")[0].lower(),
        "region": project.locale.rpartition("-")[2].lower(),
        "title": hold.title,
        "project": project.name,
        "printed": _("as it stood on %s") % display.day(on, project.locale),
        "page": _("page"),
        "facts": [project.name, _("hold point"), _("sheet for site")],
        "about": list(_about(hold, project)),
        "cost": _("If it was covered wrong, it costs %s.") % cost if hold.gate.cost_if_wrong_minor else "",
        "headings": {"checks": _("What has to be shown"), "signs": _("Who signs")},
        "head": [_("Check"), _("Limit, and whose"), _("Shown before"), _("Found now"), _("Answer")],
        "remarks": _("Remarks, numbers of photographs and gauges:"),
        "passes": _("passes"),
        "fails": _("fails"),
        "checks": [_check(row, project) for row in checks],
        "signers": [_signer(one, project) for one in hold.signers],
        "cautions": cautions(),
    }


def _about(hold: Hold, project: Project) -> Iterator[Part]:
    notice = wording_holds.notice(hold.visit, project)
    yield {"label": _("Looked at in:"), "words": _work(hold.activity, project)}
    if notice:
        yield {"label": _("When:"), "words": notice}
    if hold.gate.kind == "hold":
        stops = "; ".join(_work(work, project) for work in hold.stops)
        yield {"label": _("May not start before it is released:"), "words": stops}
    else:
        yield {"label": _("It stops nothing:"), "words": _("the work may go on")}
    if hold.note:
        yield {"label": _("Note:"), "words": hold.note}


def _work(work: Work, project: Project) -> str:
    return f"{work}, {display.day(work.starts_on, project.locale)}" if work.starts_on else str(work)


def _check(row: Seen, project: Project) -> dict[str, str]:
    shown = f"{row.evidence}: {row.check.evidence_named}" if row.check.evidence_named else row.evidence
    source = f"{row.limit_from}: {row.check.limit_named}" if row.check.limit_named else row.limit_from
    return {
        "text": row.check.text, "evidence": shown, "limit": row.check.limit, "source": source if row.check.limit else "",
        "before": _before(row, project),
    }  # fmt: skip


def _before(row: Seen, project: Project) -> str:
    """What was found last, with its answer and its day; empty for a check that nothing was shown of."""
    if row.newest is None:
        return ""
    proof = row.newest.proof
    words = _("passes") if proof.passes else _("fails")
    on = display.day(proof.seen_on, project.locale, short=True) if proof.seen_on else ""
    return ", ".join(part for part in (words, proof.value, on) if part)


def _signer(one: Signer, project: Project) -> dict[str, str]:
    signature: Any = one.signature
    if signature is None or not one.counts:
        return {"role": one.role, "words": _("Name, date, signature")}
    return {"role": one.role, "words": f"{signature.name}, {display.day(signature.signed_on, project.locale)}"}


def cautions() -> list[str]:
    return [
        _(
            "Limits that are a starting value come from common practice. Local code, the maker's sheet and the engineer's drawing "
            "win over them; this sheet replaces no inspection by the authority."
        ),
        _(
            "Nobody goes into a dig that is not supported or battered back, or alone. A test under pressure can burst, one with air "
            "most of all: keep people away. Nobody stands under a load. Licensed people decide."
        ),
    ]
