"""Builders that speak the domain and write through the services, so that what a test stands on is what a user can make.

Amounts are whole major units (`budget=12_400` is £12,400); everything happens at NOW unless the test says otherwise.
"""

from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from budget.models import Agreement, Change, FundingReceipt, Invoice, LineItem, Payment, Quote, Risk, Trade, Transfer
from budget.services import (
    agreements,
    banks,
    changes,
    funding,
    invoices,
    lines,
    payments,
    quotes,
    retention,
    risks,
    stages,
    transfers,
)
from budget.services.invoices import InvoicedLine, InvoiceDraft
from decisions.models import Decision
from decisions.services import drafts
from projects.models import Attachment, Membership, Project, Role, User
from projects.services import builds, files, people
from schedule.calc.alter import Alteration
from schedule.models import Activity, Delivery, HoldPoint, Need, Promise, Question, Signature, WorkCalendar
from schedule.services import activities, calendars, deliveries, holds, needs, promises, proofs, questions

TODAY = date(2027, 1, 29)
NOW = datetime(2027, 1, 29, 10, tzinfo=UTC)
PDF = b"%PDF-1.7\n1 0 obj<<>>endobj\n%%EOF\n"
PNG = b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR" + b"\x00" * 32


def person(username: str, name: str = "") -> User:
    """Somebody with an account; tests sign them in without a password."""
    user = User(username=username, first_name=name or username.capitalize())
    user.set_unusable_password()
    user.save()
    return user


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    return client


def project(lead: User, *, held_on: date | None = TODAY, **changes: Any) -> Project:
    """A project with its lead; its date is held at TODAY, so that pages and tests agree on it.

    Args:
        changes: fields of `builds.ProjectDraft`, or `cost_of_day`, `lead_limit`, `contingency` [whole major units].
    """
    asked = {name: changes.pop(name) for name in ("cost_of_day", "lead_limit", "contingency") if name in changes}
    amounts = {f"{name}_minor": None if major is None else major * 100 for name, major in asked.items()}
    draft = builds.ProjectDraft(**{"name": "Harbour hall", "currency": "GBP", "time_zone": "Europe/London"} | changes)
    made = builds.create_project(
        draft, by=lead, now=NOW - timedelta(days=90), today=TODAY - timedelta(days=90), **amounts
    )
    made.held_on = held_on
    made.save(update_fields=["held_on"])
    return made


def member(project: Project, user: User, role: str) -> Membership:
    """Somebody who came by an invitation."""
    invited = people.invite(project, role=role, note=user.called, by=lead_of(project), now=NOW)
    return people.accept_invitation(invited.secret, by=user, now=NOW)


def lead_of(project: Project) -> User:
    return project.memberships.filter(role=Role.LEAD, left_at=None).order_by("pk")[0].user


def trade(project: Project, code: str = "T01", name: str = "Concrete") -> Trade:
    found = Trade.objects.filter(project=project, code=code).first()
    return found or lines.add_trade(project, by=lead_of(project), now=NOW, code=code, name=name)


def line(
    project: Project, code: str = "L0101", *, budget: int = 10_000, trade_code: str = "T01", **changes: Any
) -> LineItem:
    """A line item with its first budget amount; its trade is added when it is not there yet."""
    trade(project, trade_code)
    draft = lines.LineDraft(
        **{"trade_code": trade_code, "code": code, "description": f"Work {code}", "budget_minor": budget * 100}
        | changes
    )
    return lines.add_line(project, draft, by=lead_of(project), now=NOW, today=TODAY)


def quote(line: LineItem, amount: int, *, vendor: str = "Aridlow", on: date = TODAY, **terms: Any) -> Quote:
    """A firm quote of one vendor on one line, in the project's currency unless `currency` and `rate` say otherwise."""
    row = quotes.QuotedLine(line.pk, amount * 100, scope=terms.pop("scope", ()), extras=terms.pop("extras", ()))
    draft = quotes.QuoteDraft(
        **{"vendor": vendor, "currency": line.project.currency, "quoted_on": on, "lines": (row,)}
        | {"valid_until": on + timedelta(days=30)}
        | terms
    )
    return quotes.log_quote(line.project, draft, by=lead_of(line.project), now=NOW, today=max(on, TODAY))


def decision(
    line: LineItem, *, options: tuple[int, ...] = (9_000, 9_500), need_by: date = TODAY + timedelta(days=14)
) -> Decision:
    """An open decision on one line, with an option for each amount: A, B, …"""
    by = lead_of(line.project)
    made = drafts.open_decision(
        line.project,
        title=f"How to build {line.code}",
        question="Which way?",
        line_ids=[line.pk],
        need_by=need_by,
        by=by,
        now=NOW,
    )
    for amount in options:
        item = drafts.ItemDraft(line.pk, name=f"for {amount}", amount_minor=amount * 100)
        drafts.add_option(made, drafts.OptionDraft(name=f"The way for {amount}", items=(item,)), by=by, now=NOW)
    return Decision.objects.get(pk=made.pk)


def upload(name: str = "quote.pdf", content: bytes = PDF) -> SimpleUploadedFile:
    return SimpleUploadedFile(name, content)


def attachment(project: Project, name: str = "quote.pdf", content: bytes = PDF) -> Attachment:
    return files.add_attachment(project, upload(name, content), by=lead_of(project), now=NOW)


def let(
    line: LineItem, amount: int, *, vendor: str = "Aridlow", retention: int | None = None, **terms: Any
) -> Agreement:
    """A quote of one vendor, accepted as it stands."""
    given = quote(line, amount, vendor=vendor, **terms)
    held = agreements.Terms(retention_percent=None if retention is None else Decimal(retention))
    return agreements.accept_quote(given, by=lead_of(line.project), role=Role.OWNER, now=NOW, today=TODAY, terms=held)


def invoice_draft(
    line: LineItem, net: int, *, number: str = "AR-1", vendor: str = "Aridlow", **told: Any
) -> InvoiceDraft:
    """An invoice of one line; `tax`, `retention` [whole major units] and `change` go onto the line, the rest onto the head."""
    tax, held = (told.pop(name, 0) * 100 for name in ("tax", "retention"))
    change = told.pop("change", None)
    row = InvoicedLine(line.pk, net * 100, tax, held, change.pk if change else None)
    head = {"currency": line.project.currency, "invoiced_on": TODAY, "kind": "invoice" if net > 0 else "credit"}
    return InvoiceDraft(**head | {"vendor": vendor, "number": number, "lines": (row,)} | told)


def invoice(line: LineItem, net: int, *, today: date = TODAY, **told: Any) -> Invoice:
    """An invoice on one line, entered as it came; see `invoice_draft`."""
    draft = invoice_draft(line, net, **told)
    return invoices.enter_invoice(line.project, draft, by=lead_of(line.project), now=NOW, today=today)


def approved(line: LineItem, net: int, **told: Any) -> Invoice:
    """An invoice that an owner has approved, whatever its verdict."""
    entered = invoice(line, net, **told)
    return invoices.approve(
        entered, by=lead_of(line.project), role=Role.OWNER, note="Seen and agreed", now=NOW, today=TODAY
    )


def aside(project: Project, code: str = "L9901", *, amount: int = 8_000) -> LineItem:
    """A contingency."""
    return line(project, code, budget=amount, trade_code="T99", kind=LineItem.Kind.CONTINGENCY)


def moved(source: LineItem, target: LineItem, amount: int) -> Transfer:
    """Budget moved by the lead, for an unforeseen condition where it leaves a contingency."""
    return transfers.move(
        source.project, from_line_id=source.pk, to_line_id=target.pk, amount_minor=amount * 100, need="unforeseen",
        reason="the dig is deeper", by=lead_of(source.project), role=Role.LEAD, now=NOW, today=TODAY,
    )  # fmt: skip


def risk(project: Project, *, chance: str = "0.04", cost: int = 24_000, days: int = 9) -> Risk:
    draft = risks.RiskDraft(what="Leak after the pour", chance=Decimal(chance), cost_minor=cost * 100, days=days)
    return risks.add_risk(project, draft, by=lead_of(project), now=NOW, today=TODAY)


def billed(project: Project) -> Payment:
    """A line that is let, with an invoice that names bank details and is paid in part."""
    work = line(project, "L0190")
    let(work, 9_000, vendor="Brisewell")
    bank = banks.note_bank(project.vendors.get(name="Brisewell"), "GB33 BUKB 2020 1555", by=None, now=NOW, today=TODAY)
    banks.confirm(bank, "rang them", by=lead_of(project), now=NOW, today=TODAY)
    entered = approved(work, 4_000, number="BR-1", vendor="Brisewell", bank="GB33 BUKB 2020 1555")
    return payments.pay(entered, amount_quoted_minor=100_000, paid_on=TODAY, by=None, now=NOW, today=TODAY)


def change(line: LineItem, amount: int = 500, **told: Any) -> Change:
    """A change as the lead writes it down on a line that is let; proposed, and certain unless told otherwise."""
    usual = {"title": "Rock in the dig", "reason": Change.Reason.UNFORESEEN, "paid_from": Change.Source.LINE}
    draft = changes.ChangeDraft(line_id=line.pk, amount_minor=amount * 100, **(usual | told))
    return changes.raise_change(line.project, draft, by=lead_of(line.project), role=Role.LEAD, now=NOW, today=TODAY)


def cash(project: Project) -> FundingReceipt:
    """A line with goods on site and retention given back in part, and money that came in for it."""
    work, by = line(project, "L0191"), lead_of(project)
    told = {"by": by, "now": NOW, "today": TODAY}
    agreement = let(work, 9_000, vendor="Cassavale", retention=5)
    approved(work, 4_000, number="CA-1", vendor="Cassavale", retention=200)
    retention.release(agreement, amount_quoted_minor=1_00, released_on=TODAY, **told)
    stages.arrive(agreement, arrived_on=TODAY, **told)
    source = funding.add_source(project, name="Shares", amount_minor=100_000_00, **told)
    return funding.receive(source, amount_minor=50_000_00, received_on=TODAY, **told)


def calendar(project: Project, name: str = "Trades", weekdays: str = "12345", **more: Any) -> WorkCalendar:
    """A working calendar; the first one of a project becomes the project's own.

    Args:
        more: `region`, `closures` [(first day, last day, reason), …] or `note`.
    """
    closures = tuple(calendars.ClosureDraft(*one) for one in more.pop("closures", ()))
    draft = calendars.CalendarDraft(name, frozenset(map(int, weekdays)), closures=closures, **more)
    return calendars.add(project, draft, by=lead_of(project), now=NOW, today=TODAY)


def activity(project: Project, code: str, days: int = 1, after: Iterable[Any] = (), **more: Any) -> Activity:
    """A piece of work that waits for others: codes of what must be finished before, or `LinkDraft`s, or rows."""
    links = tuple(
        one if isinstance(one, activities.LinkDraft) else activities.LinkDraft(getattr(one, "code", one))
        for one in after
    )
    draft = activities.ActivityDraft(**{"code": code, "name": f"Work {code}", "days": days, "after": links} | more)
    return activities.add(project, draft, by=lead_of(project), now=NOW, today=TODAY)


def hold_point(
    project: Project, code: str = "H01", *, activity: str = "A01", stops: Iterable[str] = ("A02",), **more: Any
) -> HoldPoint:
    """A hold point looked at in one activity and stopping others, named by their codes.

    Args:
        more: fields of `HoldDraft`; `checks` may be texts, each shown by a note; `cost` [whole major units].
    """
    checks = tuple(
        one if isinstance(one, holds.CheckDraft) else holds.CheckDraft(one, evidence="word")
        for one in more.pop("checks", ("Bars as drawn",))
    )
    usual = {"title": f"Before {code}", "signers": ("Engineer",), "cost_if_wrong_minor": more.pop("cost", 9_000) * 100}
    draft = holds.HoldDraft(
        **usual | {"code": code, "activity": activity, "stops": tuple(stops), "checks": checks} | more
    )
    return holds.add(project, draft, by=lead_of(project), now=NOW, today=TODAY)


def delivery(project: Project, activity: str = "A01", item: str = "Chiller", **more: Any) -> Delivery:
    """A thing that is on site when an activity, named by its code, is done.

    Args:
        more: fields of `DeliveryDraft`.
    """
    row = project.activities.get(code=activity)
    draft = deliveries.DeliveryDraft(item, **more)
    return deliveries.add(row, draft, by=lead_of(project), now=NOW, today=TODAY)


def signature(hold: HoldPoint, role: str = "Engineer") -> Signature:
    """A role that has signed, early or not."""
    return proofs.sign(hold, role=role, name="Ina Inspect", by=lead_of(hold.project), now=NOW, today=TODAY)


def need(project: Project, activity: str = "A01", what: str = "Pump booked", **more: Any) -> Need:
    """What an activity, named by its code, still needs.

    Args:
        more: `kind`, `who`, `by_on`.
    """
    usual = {"kind": "plant", "by_on": TODAY + timedelta(days=3)}
    row = project.activities.get(code=activity)
    return needs.add(row, **usual | {"what": what} | more, by=lead_of(project), now=NOW, today=TODAY)


def promise(need: Need) -> Promise:
    """The activity that needs something is promised for this week all the same."""
    draft = promises.PromiseDraft(TODAY, activity_id=need.activity_id)
    return promises.promise(need.project, draft, by=lead_of(need.project), now=NOW, today=TODAY)


def question(project: Project, activity: str = "A02", days: int = 3) -> Question:
    """A what-if that is kept: an activity, named by its code, takes so many days."""
    asked = Alteration(durations={activity: days})
    return questions.keep(project, asked, title=f"{activity} takes longer", by=lead_of(project), now=NOW, today=TODAY)
