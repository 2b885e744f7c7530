"""A small build with something to cover, and the deeds at its hold points."""

from datetime import datetime, timedelta

from projects.models import Project
from schedule.models import Activity, HoldPoint, Proof, Signature
from schedule.selectors import holds as reads
from schedule.services import progress, proofs
from tests import builders
from tests.builders import NOW, TODAY

LATER = NOW + timedelta(minutes=5)


def build(project: Project) -> Project:
    """Pipes, then an inspection with two days' notice, then the pour that covers them."""
    builders.calendar(project)
    builders.activity(project, "A01", 2)
    builders.activity(project, "A02", 1, ["A01"], name="Inspect", notice_days=2, attended_by="Inspector")
    builders.activity(project, "A03", 1, ["A02"], name="Pour", covers=True)
    builders.activity(project, "A04", 3, ["A03"], name="Cure")
    return project


def hold_on(build: Project, **more) -> HoldPoint:
    """Two checks, two signers, before the pour."""
    usual = {"activity": "A02", "stops": ("A03",), "checks": ("Bars", "Cover"), "signers": ("Engineer", "Site lead")}
    return builders.hold_point(build, **usual | more)


def who(build: Project, at: datetime = NOW) -> dict:
    return {"by": builders.lead_of(build), "now": at, "today": TODAY}


def prove(hold: HoldPoint, text: str, passes: bool = True, *, at: datetime = NOW, **more) -> Proof:
    check = hold.checks.get(text=text, removed_on=None)
    return proofs.prove(check, proofs.Found(passes=passes, **{"value": "seen"} | more), **who(hold.project, at))


def sign(hold: HoldPoint, role: str, *, at: datetime = NOW, name: str = "Ina Inspect") -> Signature:
    return proofs.sign(hold, role=role, name=name, **who(hold.project, at))


def released(hold: HoldPoint) -> HoldPoint:
    for check in hold.checks.filter(removed_on=None):
        prove(hold, check.text)
    for signer in hold.signers.all():
        sign(hold, signer.role, at=LATER)
    return hold


def state(hold: HoldPoint) -> str:
    return reads.one(hold.project, hold.pk, today=TODAY).state


def missing(hold: HoldPoint) -> tuple[str, ...]:
    return reads.one(hold.project, hold.pk, today=TODAY).missing


def pour(build: Project) -> Activity:
    return build.activities.get(code="A03")


def start(build: Project) -> None:
    progress.report(build.activities.get(code="A01"), started_on=TODAY, finished_on=TODAY, **who(build))
    progress.report(build.activities.get(code="A02"), started_on=TODAY, finished_on=TODAY, **who(build))
    progress.report(pour(build), started_on=TODAY, **who(build))
