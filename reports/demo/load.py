"""Build the demo project by replaying the scenario in the order of its dates.

Nothing is written past the services: quotes are logged, decisions recorded and approved by the people who did so, and
so the ledger, the trail and the records of the demo are as real as anybody's.
"""

from collections.abc import Mapping
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any

from django.db import transaction

from budget.models import LineItem, Quote, QuoteLine
from budget.services import agreements, ledger, lines, quotes
from decisions import door
from decisions.models import Approval, CheckResult, Decision, MustPass, Option, SavingKind
from decisions.services import drafts, records
from projects.models import ApprovalLimit, ExchangeRate, Membership, Project, Role, User
from reports.demo import billing, coming, gates, questions, reserve, sequence
from reports.demo import scenario as source
from reports.demo.replay import ZONE, Diary, Replay
from reports.services import issuing

SLUG = "skerrywick"
CAST = (
    ("lead", "Site lead", Role.LEAD),
    ("owner", "Owner", Role.OWNER),
    ("co-owner", "Co-owner", Role.OWNER),
    ("bookkeeper", "Bookkeeper", Role.BOOKKEEPER),
    ("monitor", "Lender's monitor", Role.VIEWER),
)
OUTSIDER = ("outsider", "Passer-by")
#: The scenario issues no reports; this Friday lies between its decisions and its last quotes.
ISSUED_ON = date(2026, 12, 4)
#: Agreed, and not held on the invoice: the scenario says so in the note of that invoice.
AGREED_RETENTION = {"L1102": Decimal(5)}
#: How the scenario's savings of a decision divide by our kinds: {decision: [(kind, amount, what)]}.
KINDS = {
    "true saving": SavingKind.SAME_FOR_LESS,
    "better quote": SavingKind.SAME_FOR_LESS,
    "negotiated": SavingKind.SAME_FOR_LESS,
    "risk taken on": SavingKind.SAME_FOR_LESS,
    "scope reduction": SavingKind.SCOPE_CUT,
    "moved to another line": SavingKind.MOVED,
    "avoided cost": SavingKind.AVOIDED,
}


@transaction.atomic
def load() -> Project:
    """Build the demo project. Not safe to repeat: the project's slug is then taken.

    Returns: the project, its date held at the scenario's status date.
    """
    scenario = source.read()
    people = _people()
    replay = Replay(scenario, _project(scenario, people), people)
    _budget(replay)
    for part in (sequence, gates, coming):
        part.set_up(replay, replay.project.created_at.date())
    for on, _order, deed in sorted(_diary(replay), key=lambda entry: entry[:2]):
        deed(on)
    today = source.day(scenario["about"]["status_date"])
    _reckonings(replay, today)
    door.settle(Project.objects.get(pk=replay.project.pk), today=today, now=replay.at(today, 7))
    return Project.objects.get(pk=replay.project.pk)


def _people() -> dict[str, User]:
    found = {}
    for username, called in [*((name, called) for name, called, _role in CAST), OUTSIDER]:
        user, made = User.objects.get_or_create(username=username, defaults={"first_name": called})
        if made:
            user.set_unusable_password()
            user.save()
        found[username] = user
    return found


def _project(scenario: Mapping[str, Any], people: Mapping[str, User]) -> Project:
    about, cost = scenario["about"], scenario["cost_of_one_day"]
    start = source.day(about["start"])
    began = datetime.combine(start - timedelta(days=90), time(9), tzinfo=ZONE)
    project = Project.objects.create(
        slug=SLUG,
        name=about["title"],
        about=about["what"],
        currency=about["base_currency"],
        units="metric",
        locale="en-GB",
        time_zone="Europe/London",
        starts_on=start,
        opens_on=source.day(about["opening_target"]),
        cost_of_day_minor=source.minor(cost["used_for_days_that_move_opening"]),
        tax_percent=Decimal(str(about["vat_rate"])) * 100,
        held_on=source.day(about["status_date"]),
        created_at=began,
    )
    Membership.objects.bulk_create(
        Membership(project=project, user=people[name], role=role, joined_at=began) for name, _called, role in CAST
    )
    lead_limit = next(row for row in scenario["roles"] if row["role"] == "Site lead")["may_approve_up_to"]
    ApprovalLimit.objects.create(project=project, role=Role.LEAD, amount_minor=source.minor(lead_limit))
    ApprovalLimit.objects.create(project=project, role=Role.OWNER, amount_minor=None)
    ExchangeRate.objects.bulk_create(
        ExchangeRate(
            project=project, currency=code, rate=Decimal(str(rate)), rated_on=began.date(), entered_at=began, entered_by=people["lead"]
        )
        for code, rate in scenario["rates"]["budget"].items()
        if code != project.currency
    )  # fmt: skip
    return project


def _budget(replay: Replay) -> None:
    scenario, project = replay.scenario, replay.project
    began = project.created_at
    for row in scenario["trades"]:
        lines.add_trade(project, by=replay.lead, now=began, code=row["code"], name=row["name"])
    for row in scenario["lines"]:
        draft = lines.LineDraft(
            trade_code=row["trade"], code=row["code"], description=row["description"], unit=row["unit"],
            quantity=Decimal(str(row["quantity"])), budget_minor=source.minor(row["baseline"]),
        )  # fmt: skip
        replay.lines[row["code"]] = lines.add_line(project, draft, by=replay.lead, now=began, today=began.date())
    for package in scenario["scope_lists"]:
        entries = [(item["item"], source.minor(item["plug"])) for item in package["items"]]
        lines.set_scope(replay.lines[package["line"]], entries, by=replay.lead, now=began, today=began.date())
    contingency = lines.LineDraft(
        trade_code="T99", trade_name="Contingency", code="L9901", description="Contingency", kind=LineItem.Kind.CONTINGENCY,
        budget_minor=source.minor(scenario["contingency"]["opening"]),
    )  # fmt: skip
    lines.add_line(project, contingency, by=replay.lead, now=began, today=began.date())


def _diary(replay: Replay) -> Diary:
    """Everything that happened, with its date; quotes come before what was done about them on the same day."""
    diary: Diary = []
    logged = source.quotes(replay.scenario)
    for quote in logged:
        diary.append((quote.quoted_on, 0, lambda on, quote=quote: _log(replay, quote, on)))
    last = {quote.line: quote.quoted_on for quote in logged}
    for line, accepted in source.agreed_without_decision(replay.scenario):
        on = min(last[line["code"]] + timedelta(days=7), source.day(accepted["valid_until"]))
        diary.append((on, 2, lambda on, line=line, accepted=accepted: _accept(replay, line, accepted, on)))
    for row in replay.scenario["decisions"]:
        opened = last[row["line"]]
        diary.append((opened, 1, lambda on, row=row: _open(replay, row, on)))
        if row["status"] == "decided":
            diary.append((source.day(row["decided_on"]), 3, lambda on, row=row: _decide(replay, row, on)))
    diary += billing.diary(replay)
    diary += reserve.diary(replay)
    for part in (sequence, gates, coming):
        diary += part.diary(replay)
    diary += questions.diary(replay)
    diary.append((ISSUED_ON, 9, lambda on: _issue(replay, on)))
    return diary


def _issue(replay: Replay, on: date) -> None:
    """Give the owners a report, so that their page can tell what has changed since."""
    door.settle(Project.objects.get(pk=replay.project.pk), today=on, now=replay.at(on, 7))
    note = "For the meeting on Monday: six decisions are taken, and the slab is let."
    issuing.issue(replay.project, note=note, by=replay.lead, now=replay.at(on, 17), today=on)


def _log(replay: Replay, quote: source.ScenarioQuote, on: date) -> None:
    line = replay.lines[quote.line]
    logged = quotes.log_quote(replay.project, quote.draft(line.pk), by=replay.lead, now=replay.at(on), today=on)
    replay.quotes[quote.id] = logged
    if quote.row["first_complete_quote"]:
        _measure_against(replay, logged, line, on)


def _measure_against(replay: Replay, logged: Quote, line: LineItem, on: date) -> None:
    kept = QuoteLine.objects.select_related("line__project", "quote__vendor").get(quote=logged, line=line)
    newest = line.originals.order_by("pk").last()
    if newest is None or newest.quote_id != logged.pk:
        lines.choose_original(
            kept, reason="first quote for the whole work", by=replay.lead, now=replay.at(on), today=on
        )


def _accept(replay: Replay, line: Mapping[str, Any], accepted: Mapping[str, Any], on: date) -> None:
    item = replay.lines[line["code"]]
    terms = agreements.Terms(
        amounts={item.pk: source.minor(line["agreed_in_currency"])}, retention_percent=_retention(replay, line)
    )
    quote = replay.quotes[accepted["id"]]
    _confirmed(replay, quote, on)
    agreements.accept_quote(
        quote, by=replay.people["owner"], role=Role.OWNER, now=replay.at(on, 15), today=on, terms=terms
    )
    reserve.talked_down(replay, line["code"], on)


def _confirmed(replay: Replay, quote: Quote, on: date) -> None:
    """A quote taken after its date was confirmed by its vendor that day; the scenario takes that for granted."""
    if quote.expired(on):
        quotes.renew_quote(
            quote,
            valid_until=on + timedelta(days=14),
            note="price confirmed by telephone",
            by=replay.lead,
            now=replay.at(on, 9),
            today=on,
        )


def _retention(replay: Replay, line: Mapping[str, Any]) -> Decimal | None:
    held = [row["retention_percent"] for row in replay.scenario["invoices"] if row["line"] == line["code"]]
    percent = Decimal(str(max(held, default=0))) or AGREED_RETENTION.get(line["code"])
    return percent or None


def _open(replay: Replay, row: Mapping[str, Any], on: date) -> None:
    line = replay.lines[row["line"]]
    decision = drafts.open_decision(
        replay.project, title=row["title"], question=row["question"], line_ids=[line.pk], need_by=source.day(row["need_by"]),
        code=row["id"], by=replay.lead, now=replay.at(on, 12),
    )  # fmt: skip
    checks = [drafts.MustPassDraft(name) for name in row["must_haves"]]
    kept = drafts.set_must_passes(decision, checks, by=replay.lead, now=replay.at(on, 12)) if checks else []
    for option in row["options"]:
        drafts.add_option(decision, _option(replay, row, option, kept), by=replay.lead, now=replay.at(on, 13))
    replay.decisions[row["id"]] = Decision.objects.get(pk=decision.pk)
    sequence.tie_decision(replay, row, on)


def _option(
    replay: Replay, row: Mapping[str, Any], option: Mapping[str, Any], checks: list[MustPass]
) -> drafts.OptionDraft:
    line, when, adjust = replay.lines[row["line"]], option["time"], option["adjust_later"]
    quote = replay.quotes[option["quote"]] if option["quote"] else None
    item = drafts.ItemDraft(
        line.pk, name=option["name"], quote_id=quote.pk if quote else None,
        amount_minor=None if quote else source.minor(option["price"]),
    )  # fmt: skip
    return drafts.OptionDraft(
        name=option["name"],
        items=(item,),
        effects=tuple(
            drafts.EffectDraft(replay.lines[e["line"]].pk, source.minor(e["amount"]), e["why"])
            for e in option["effects_on_other_lines"]
        ),
        checks=tuple(drafts.CheckDraft(check.pk, verdict=_verdict(row, option)) for check in checks),
        note=option["note"],
        lead_days=None if option["lead_weeks"] is None else int(option["lead_weeks"]) * 7,
        extra_days=int(when["days_longer_than_quickest"]),
        float_days=int(when["float_at_decision"]),
        adjust_how=adjust["how_reversible"],
        adjust_chance=Decimal(str(adjust["chance_change_needed"])),
        adjust_cost_minor=source.minor(adjust["cost_to_change"]),
        adjust_days=int(adjust["days_to_change"]),
        adjust_float_days=int(when["float_at_decision"]),
        yearly_cost_minor=source.minor(option["ten_year_upkeep"]) // 10,
        years=10 if option["ten_year_upkeep"] else 0,
    )


def _verdict(row: Mapping[str, Any], option: Mapping[str, Any]) -> str:
    """The scenario turns one option down for a must-have; of decided ones the rest pass, of open ones nobody knows yet."""
    if "turned down because" in option["note"]:
        return CheckResult.Verdict.FAILS
    return CheckResult.Verdict.PASSES if row["status"] == "decided" else CheckResult.Verdict.UNKNOWN


def _decide(replay: Replay, row: Mapping[str, Any], on: date) -> None:
    decision = Decision.objects.get(pk=replay.decisions[row["id"]].pk)
    line = next(entry for entry in replay.scenario["lines"] if entry["code"] == row["line"])
    option = Option.objects.get(decision=decision, key=row["chosen"])
    for item in option.items.exclude(quote=None).select_related("quote"):
        _confirmed(replay, item.quote, on)
    choice = records.Choice(
        option_id=option.pk,
        reason=row["reason"],
        amounts={replay.lines[row["line"]].pk: source.minor(line["agreed_in_currency"])},
        savings=tuple(_savings(replay, row)),
    )
    made = records.record(decision, choice, by=replay.lead, role=Role.LEAD, now=replay.at(on, 11), today=on)
    if made.needs_approval:
        note = ", ".join(row["approved_by"])
        records.approve(
            made, verdict=Approval.Verdict.APPROVED, note=note, by=replay.people["owner"], role=Role.OWNER, now=replay.at(on, 17), today=on
        )  # fmt: skip


def _savings(replay: Replay, decision: Mapping[str, Any]) -> list[records.SavingDraft]:
    """The scenario's savings of a decision, with what was talked down on its line when it was recorded."""
    own = (decision["id"], None)
    return [
        records.SavingDraft(KINDS[row["kind"]], source.minor(row["amount"]), row["what"])
        for row in replay.scenario["savings_and_overages"]
        if row["decision"] in own
        and row["line"] == decision["line"]
        and row["kind"] in KINDS
        or row["decision"] == decision["id"]
        and row["kind"] == "moved to another line"
    ]


def _reckonings(replay: Replay, today: date) -> None:
    """What is reckoned at the status date: estimates of unquoted lines, favoured quotes, and the scenario's midpoints."""
    for row in replay.scenario["lines"]:
        line = LineItem.objects.select_related("project").get(pk=replay.lines[row["code"]].pk)
        when = {"by": replay.lead, "now": replay.at(today, 8), "today": today}
        if row["newest_estimate"] is not None:
            lines.estimate(
                line, amount_minor=source.minor(row["newest_estimate"]), basis="newest estimate", on=today, **when
            )
        elif vendor := source.favoured_vendor(row):
            kept = QuoteLine.objects.get(line=line, quote__vendor__name=vendor)
            quotes.prefer(kept, preferred=True, **when)
    ledger.bring_up_to(replay.project, today=today, at=replay.at(today, 7))
    for row in replay.scenario["lines"]:
        line = LineItem.objects.select_related("project").get(pk=replay.lines[row["code"]].pk)
        if row["forecast_rule"].startswith("middle of") and line.likely_minor != source.minor(row["forecast_final"]):
            lines.forecast_own(
                line, amount_minor=source.minor(row["forecast_final"]), by=replay.lead, now=replay.at(today, 8), today=today,
                reason="Midpoint of the two middle quotes, until one is preferred",
            )  # fmt: skip
