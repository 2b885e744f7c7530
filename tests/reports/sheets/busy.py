"""A build on which everything has happened once, in any currency, with codes and names that a spreadsheet would misread."""

from decimal import Decimal
from typing import Any

from budget.models import Agreement, Change, LineItem
from budget.services import changes, invoices, payments, retention, transfers
from decisions.services import book
from projects.models import ExchangeRate, Project, Role, User
from projects.services import rates
from tests import builders
from tests.builders import NOW, TODAY

#: A vendor that a careless file would run.
HOSTILE = "=cmd|' /C calc'!A0"


def who(by: User) -> dict[str, Any]:
    return {"by": by, "now": NOW, "today": TODAY}


def build(
    lead: User, *, currency: str = "GBP", abroad: str = "EUR", rate: str = "0.8637", today: str = "0.8791"
) -> Project:
    """A project of one currency with one maker abroad; rates that leave odd cents behind.

    Amounts are hundreds of the smallest unit plus a few, so that the last digit matters in every currency.
    """
    project = builders.project(lead, name="Busy & <hall>", currency=currency, contingency=8_000)
    for purpose, told in ((ExchangeRate.Purpose.BUDGET, rate), (ExchangeRate.Purpose.TODAY, today)):
        rates.set_rate(project, currency=abroad, rate=Decimal(told), rated_on=TODAY, purpose=purpose, **who(lead))
    lines = {
        code: builders.line(project, code, budget=9_000 + place * 1_111)
        for place, code in enumerate(("007", "7", "L*", "=1+1", "L9"))
    }
    plain, foreign = lines["007"], lines["L*"]
    at_home = builders.let(plain, 8_765, vendor=HOSTILE, retention=5)
    builders.let(foreign, 7_003, vendor="Maker", currency=abroad, rate=Decimal(rate), retention=10)
    builders.quote(lines["7"], 9_999)
    _change(project, plain, lead)
    _bill(plain, foreign, lead, abroad)
    _give_back(at_home, lead)
    _move(project, lines, lead)
    draft = book.EntryDraft("deferral", foreign.pk, "Paint later, =1+1", 12_345, state="idea")
    book.add_entry(project, draft, **who(lead))
    return Project.objects.get(pk=project.pk)


def _change(project: Project, line: LineItem, lead: User) -> None:
    """One agreed, one proposed by half of an odd amount, one declined."""
    told = {"line_id": line.pk, "reason": "unforeseen", "paid_from": "line"}
    for place, (amount, chance) in enumerate(((20_101, "1"), (1_005, "0.5"), (-301, "0.333"), (777, "1"))):
        draft = changes.ChangeDraft(title=f"Change {place}", amount_minor=amount, chance=Decimal(chance), **told)
        made = changes.raise_change(project, draft, role=Role.OWNER, agree=place == 0, **who(lead))
        if place == 3:
            changes.decline(made, note="no", **who(lead))


def _bill(plain: LineItem, foreign: LineItem, lead: User, abroad: str) -> None:
    """Paid, paid in part, taken back, queried, refused and credited, at home and abroad."""
    told = {"vendor": HOSTILE, "tax": 381, "retention": 100}
    first = builders.approved(plain, 2_003, number="007", **told)
    payments.pay(first, paid_on=TODAY, reference="=1+1", **who(lead))
    second = builders.approved(plain, 1_001, number="8", **told)
    wrong = payments.pay(second, amount_quoted_minor=33_333, paid_on=TODAY, **who(lead))
    payments.take_back(wrong, "paid twice", **who(lead))
    payments.pay(second, amount_quoted_minor=11_111, paid_on=TODAY, **who(lead))
    builders.approved(plain, -101, number="C1", vendor=HOSTILE)
    for number, deed in (("Q1", invoices.query), ("R1", invoices.refuse)):
        entered = builders.invoice(plain, 333, number=number, vendor=HOSTILE, tax=60)
        if entered.state != "queried" or deed is invoices.refuse:
            deed(entered, "not agreed", **who(lead))
    made = builders.approved(
        foreign, 3_007, number="M1", vendor="Maker", currency=abroad, rate=Decimal("0.8701"), retention=301
    )
    payments.pay(made, amount_quoted_minor=123_457, paid_on=TODAY, rate=Decimal("0.8913"), **who(lead))


def _give_back(agreement: Agreement, lead: User) -> None:
    retention.release(agreement, amount_quoted_minor=5_001, released_on=TODAY, **who(lead))


def _move(project: Project, lines: dict[str, LineItem], lead: User) -> None:
    pot = LineItem.objects.get(project=project, kind=LineItem.Kind.CONTINGENCY)
    told = {"reason": "deeper dig", **who(lead)}
    deeper, spared = lines["L9"].pk, lines["=1+1"].pk
    transfers.move(
        project, from_line_id=pot.pk, to_line_id=deeper, amount_minor=55_501, need=Change.Reason.UNFORESEEN, role=Role.OWNER, **told
    )  # fmt: skip
    transfers.move(project, from_line_id=spared, to_line_id=deeper, amount_minor=1_101, role=Role.LEAD, **told)
