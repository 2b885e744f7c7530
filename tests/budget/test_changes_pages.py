"""The pages of changes, as each role sees them."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from budget.models import Change, LineItem
from budget.selectors import changes as reads
from budget.services import changes
from projects.models import Attachment, Project, Role, User
from tests import builders
from tests.budget import changing
from tests.budget.changing import agree, gap_on, let_with_gap, raised
from tests.budget.reserving import let, likely, who, whole
from tests.builders import TODAY

JPEG = b"\xff\xd8\xff\xe0" + b"\x00" * 40


@pytest.fixture
def project(lead: User) -> Project:
    """The lead may agree to 2,000 alone; 8,000 are set aside."""
    return changing.build(lead)


@pytest.fixture
def line(project: Project) -> LineItem:
    return let(project, "L0202", agreed=9_000)


@pytest.fixture
def as_lead(lead: User) -> Client:
    return builders.signed_in(lead)


def at(project: Project, below: str = "") -> str:
    return f"/p/{project.slug}/money/changes/{below}"


def typed(line: LineItem, **entries: Any) -> dict[str, Any]:
    """What the form sends when little more is filled in than it asks for."""
    usual = {
        "line": line.pk, "title": "Rock in the dig", "reason": "unforeseen", "amount": "1,260", "way": "price", "chance": "1",
        "raised_on": TODAY.isoformat(),
    }  # fmt: skip
    return usual | entries


def text(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


# --- writing one down ---------------------------------------------------------------------------------------------


def test_what_is_typed_becomes_a_change_and_the_page_says_what_it_moved(line: LineItem, as_lead: Client):
    answer = as_lead.post(
        at(line.project, "new/"), typed(line, chance="0.9", days="2", asked_by="Foreman"), follow=True
    )
    made = Change.objects.get()
    assert (made.amount_minor, made.chance, made.days, made.asked_by) == (126_000, Decimal("0.9"), 2, "Foreman")
    assert "Wrote down C01 Rock in the dig. The likely final of L0202" in text(answer)
    assert "moved from £9,000 to £10,134." in text(answer) and likely(line) == 10_134


def test_a_credit_is_chosen_and_a_ceiling_too(line: LineItem, as_lead: Client):
    as_lead.post(at(line.project, "new/"), typed(line, amount="600", way="credit"))
    as_lead.post(at(line.project, "new/"), typed(line, amount="900", way="ceiling", title="Other"))
    found = Change.objects.order_by("pk").values_list("amount_minor", "is_ceiling", "paid_from")
    assert list(found) == [(-60_000, False, "credit"), (90_000, True, "contingency")]


def test_a_wish_is_paid_by_an_owner_unless_somebody_says_the_contingency(line: LineItem, as_lead: Client):
    as_lead.post(at(line.project, "new/"), typed(line, reason="owner's wish"))
    assert Change.objects.get().paid_from == "owner"
    answer = as_lead.post(
        at(line.project, "new/"), typed(line, reason="owner's wish", paid_from="contingency", title="Other")
    )
    assert answer.status_code == 422 and "never paid from the contingency" in text(answer)
    assert '<details class="more" open>' in text(answer) and Change.objects.count() == 1


def test_an_own_chance_is_asked_for_and_taken(line: LineItem, as_lead: Client):
    answer = as_lead.post(at(line.project, "new/"), typed(line, chance="own"))
    assert answer.status_code == 422 and "Give the chance, from 0 to 100." in text(answer)
    as_lead.post(at(line.project, "new/"), typed(line, chance="own", own_chance="33.5 %"))
    assert Change.objects.get().chance == Decimal("0.335")


@pytest.mark.parametrize(
    ("entries", "fault"),
    [
        ({"line": ""}, "Choose the line that it alters."),
        ({"line": "999999"}, "Select a valid choice"),
        ({"title": ""}, "Say what is to be done."),
        ({"reason": ""}, "Say why it is needed."),
        ({"amount": ""}, "a change of nothing is no change"),
        ({"amount": "NaN"}, "This is not an amount"),
        ({"amount": "1e9"}, "This is not an amount"),
        ({"amount": "-600"}, "leave out the minus"),
        ({"amount": "99,999,999,999,999,999,999"}, "larger than any build"),
        ({"days": "4000"}, "less than or equal to 3650"),
        ({"chance": "own", "own_chance": "101"}, "at most 100"),
        ({"chance": "7"}, "Select a valid choice"),
        ({"raised_on": (TODAY + timedelta(days=1)).isoformat()}, "is out of range"),
    ],
)
def test_what_is_wrong_is_said_at_its_place_and_nothing_is_lost(
    line: LineItem, as_lead: Client, entries: dict, fault: str
):
    answer = as_lead.post(at(line.project, "new/"), typed(line) | {"note": "by the gate"} | entries)
    assert answer.status_code == 422 and fault in text(answer) and "by the gate" in text(answer)
    assert not Change.objects.exists()


def test_a_photograph_survives_a_refusal(line: LineItem, as_lead: Client):
    sent = typed(line, title="", files=builders.upload("rock.jpg", JPEG))
    answer = as_lead.post(at(line.project, "new/"), sent)
    photo = Attachment.objects.get()
    assert f'name="kept" value="{photo.pk}"' in text(answer)
    as_lead.post(at(line.project, "new/"), typed(line, kept=photo.pk))
    assert [row.attachment for row in Change.objects.get().attachments.all()] == [photo]


def test_a_photograph_of_another_project_is_not_taken(line: LineItem, as_lead: Client, lead: User):
    foreign = builders.attachment(changing.build(lead))
    as_lead.post(at(line.project, "new/"), typed(line, kept=foreign.pk))
    assert not Change.objects.get().attachments.exists()


def test_only_let_and_open_lines_are_offered(project: Project, line: LineItem, as_lead: Client):
    unlet = builders.line(project, "L0301")
    answer = text(as_lead.get(at(project, "new/")))
    assert f'value="{line.pk}"' in answer and f'value="{unlet.pk}"' not in answer


def test_without_a_let_line_the_form_says_what_to_do_first(project: Project, as_lead: Client):
    answer = text(as_lead.get(at(project, "new/")))
    assert "No line is let yet" in answer and "Log a quote" in answer


def test_the_open_piece_of_a_line_is_offered_and_priced(project: Project, as_lead: Client):
    line = let_with_gap(project, "L0203", agreed=9_000, gap=1_260)
    gap = gap_on(line)
    shown = text(as_lead.get(at(project, f"new/stands/?line={line.pk}")))
    assert "the open piece: Isolation valves (£1,260)" in shown and f'value="gap-{gap.pk}"' in shown
    as_lead.post(at(project, "new/"), typed(line, stands_for=f"gap-{gap.pk}", chance="0.5"))
    assert Change.objects.get().gap == gap and likely(line) == 9_630 and whole(project)
    assert "open piece" not in text(as_lead.get(at(project, f"new/stands/?line={line.pk}")))


def test_an_open_piece_of_another_line_is_no_choice(project: Project, line: LineItem, as_lead: Client):
    other = let_with_gap(project, "L0203")
    answer = as_lead.post(at(project, "new/"), typed(line, stands_for=f"gap-{gap_on(other).pk}"))
    assert answer.status_code == 302 and Change.objects.get().gap is None  # the line offers none, so none is asked


def test_a_link_fills_in_the_open_piece(project: Project, as_lead: Client):
    line = let_with_gap(project, "L0203", gap=1_260)
    page = text(as_lead.get(f"/p/{project.slug}/money/lines/{line.pk}/"))
    assert f"new/?line={line.pk}&amp;for=gap-{gap_on(line).pk}" in page
    form = as_lead.get(at(project, f"new/?line={line.pk}&for=gap-{gap_on(line).pk}")).context["form"]
    assert (form["title"].value(), form["amount"].value(), form["reason"].value()) == (
        "Isolation valves",
        "1260.00",
        "scope gap",
    )


def test_without_script_a_button_shows_what_a_line_leaves_open(project: Project, as_lead: Client):
    line = let_with_gap(project, "L0203")
    answer = as_lead.post(at(project, "new/"), {"line": line.pk, "look": "1", "title": "half a"})
    assert answer.status_code == 200 and "the open piece" in text(answer) and "half a" in text(answer)
    assert "Nothing is saved" not in text(answer) and not Change.objects.exists()


def test_sent_twice_it_asks_whether_it_is_another(line: LineItem, as_lead: Client):
    as_lead.post(at(line.project, "new/"), typed(line))
    answer = as_lead.post(at(line.project, "new/"), typed(line))
    assert answer.status_code == 422 and "C01 Rock in the dig looks like the same change" in text(answer)
    as_lead.post(at(line.project, "new/"), typed(line, again="on"))
    assert Change.objects.count() == 2


# --- whose limit --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("entries", "words"),
    [
        ("amount=&way=price", "Your limit is £2,000: up to it you may agree at once"),
        ("amount=2,000&way=price", "£2,000 is within your limit of £2,000: you may agree to it at once."),
        ("amount=2,000.01&way=ceiling", "Above your limit of £2,000. It waits for Olu Owner."),
        ("amount=9,000&way=credit", "This costs the project nothing: you may agree to it at once."),
        ("amount=abc&way=price", "Your limit is £2,000"),
        ("amount=NaN", "Your limit is £2,000"),
    ],
)
def test_the_form_says_before_saving_whose_limit_holds(
    project: Project, as_lead: Client, owner: User, entries: str, words: str
):
    assert words in text(as_lead.get(at(project, f"new/within/?{entries}")))


def test_where_nobody_may_agree_the_form_says_so(project: Project, as_lead: Client):
    assert "Nobody’s limit holds this amount" in text(as_lead.get(at(project, "new/within/?amount=2,001&way=price")))


def test_agreed_at_once_within_the_limit_and_waiting_above_it(line: LineItem, as_lead: Client, owner: User):
    within = as_lead.post(at(line.project, "new/"), typed(line, agree="on"), follow=True)
    assert "and agreed to it." in text(within)
    above = as_lead.post(at(line.project, "new/"), typed(line, agree="on", amount="2,001", title="Other"), follow=True)
    assert "It waits for Olu Owner." in text(above)
    assert list(Change.objects.order_by("pk").values_list("state", flat=True)) == ["agreed", "proposed"]


# --- the list and the page ----------------------------------------------------------------------------------------


def test_the_list_puts_first_what_waits_longest_and_says_for_whom(line: LineItem, as_lead: Client, owner: User):
    raised(line, 2_500, title="Newer")
    raised(line, 500, title="Older", raised_on=TODAY - timedelta(days=9))
    page = text(as_lead.get(at(line.project)))
    assert "2 changes wait for an answer: together +£3,000" in page
    assert page.index("C02 Older") < page.index("C01 Newer")
    assert "waits for you since 20 Jan (9 days)" in page and "waits for Olu Owner since 29 Jan" in page


@pytest.mark.parametrize(
    ("show", "seen", "hidden"),
    [("waiting", "C01", "C02"), ("agreed", "C02", "C03"), ("dropped", "C03", "C01"), ("nonsense", "C01", "nothing")],
)
def test_the_list_shows_one_state_without_script(
    line: LineItem, as_lead: Client, lead: User, show: str, seen: str, hidden: str
):
    raised(line, 500, title="Waits")
    raised(line, 500, title="Stands", agree=True)
    changes.decline(raised(line, 500, title="Gone"), note="no", **who(lead))
    page = text(as_lead.get(at(line.project, f"?show={show}")))
    assert f"{seen} " in page and f"{hidden} " not in page


def test_the_list_takes_the_same_queries_for_many(line: LineItem, lead: User, django_assert_num_queries: Any):
    for number in range(12):
        raised(line, 100, title=f"Change {number}", agree=number % 2 == 0)
    with django_assert_num_queries(3):
        seen = reads.listing(line.project, role=Role.LEAD, today=TODAY)
    assert (len(seen.waiting), len(seen.agreed)) == (6, 6)


def test_the_page_tells_the_sum_with_the_change_and_what_it_moved(line: LineItem, as_lead: Client):
    raised(line, 400, title="Earlier", agree=True)
    made = raised(line, 1_260, title="Valves", chance=Decimal("0.8"))
    page = text(as_lead.get(at(line.project, f"{made.pk}/")))
    assert all(words in page for words in ("£9,000.00", "+£400.00", "+£1,260.00", "£10,660.00", "80%: +£1,008"))


def test_the_paper_for_the_vendor_keeps_chances_and_purses_to_ourselves(line: LineItem, as_lead: Client):
    made = raised(line, 1_260, chance=Decimal("0.8"), paid_from="contingency", note="they may settle for 900")
    page = text(as_lead.get(at(line.project, f"{made.pk}/paper/")))
    assert "Change order C01: Isolation valves" in page and "Name, date, signature" in page and "£10,260.00" in page
    assert not [words for words in ("80%", "contingency", "settle for", "1,008") if words in page]


def test_the_lines_page_tells_its_changes(line: LineItem, as_lead: Client):
    raised(line, 1_260)
    page = text(as_lead.get(f"/p/{line.project.slug}/money/lines/{line.pk}/"))
    assert "C01 Isolation valves" in page and f"new/?line={line.pk}" in page


# --- the deeds ----------------------------------------------------------------------------------------------------


def test_an_owner_agrees_at_another_price(line: LineItem, owner: User):
    made = raised(line, 2_500, chance=Decimal("0.5"))
    sent = {
        "amount": "2,400",
        "on": TODAY.isoformat(),
        "paid_from": "line",
        "version": made.version,
        "note": "as we said",
    }
    answer = builders.signed_in(owner).post(at(line.project, f"{made.pk}/agree/"), sent, follow=True)
    made.refresh_from_db()
    assert (made.state, made.amount_minor) == ("agreed", 240_000) and "Agreed to C01" in text(answer)
    assert likely(line) == 11_400 and whole(line.project)


def test_a_lead_above_the_limit_is_told_on_the_form(line: LineItem, as_lead: Client):
    made = raised(line, 2_500)
    sent = {"amount": "2,500", "on": TODAY.isoformat(), "paid_from": "line", "version": made.version}
    answer = as_lead.post(at(line.project, f"{made.pk}/agree/"), sent)
    assert answer.status_code == 422 and "above your limit of £2,000" in text(answer)
    assert Change.objects.get().state == "proposed"


def test_an_answer_to_an_older_version_shows_what_stands(line: LineItem, owner: User, lead: User):
    made = raised(line, 500)
    changing.price(made, 5_000, lead)
    sent = {"amount": "500", "on": TODAY.isoformat(), "paid_from": "line", "version": made.version}
    answer = builders.signed_in(owner).post(at(line.project, f"{made.pk}/agree/"), sent)
    assert answer.status_code == 422 and "proposed at £5,000 by now" in text(answer)
    assert Change.objects.get().state == "proposed"


def test_declining_pricing_withdrawing_and_taking_up_again(line: LineItem, as_lead: Client):
    made = raised(line, 500)
    here = at(line.project, f"{made.pk}/")
    sent = {"amount": "450", "way": "ceiling", "chance": "0.5", "note": "by telephone", "version": 1}
    as_lead.post(f"{here}price/", sent)
    as_lead.post(f"{here}decline/", {"note": "not needed", "version": 2})
    as_lead.post(f"{here}reopen/", {"note": "needed after all", "version": 3})
    as_lead.post(f"{here}withdraw/", {"note": "", "version": 4})
    assert [step.verb for step in made.steps.order_by("pk")] == [
        "raised",
        "priced",
        "declined",
        "reopened",
        "withdrawn",
    ]
    page = text(as_lead.get(here))
    assert "at most £450" in page and "not needed" in page and likely(line) == 9_000 and whole(line.project)


def test_a_change_just_written_down_is_undone(line: LineItem, as_lead: Client):
    made = raised(line, 500)
    answer = as_lead.post(at(line.project, f"{made.pk}/undo/"), follow=True)
    assert "is withdrawn; its line stands as before" in text(answer) and likely(line) == 9_000
    again = as_lead.post(at(line.project, f"{made.pk}/undo/"), follow=True)
    assert "is withdrawn already" in text(again)


PAGES = ["", "1/", "1/paper/"]
FORMS = ["new/", "new/stands/", "new/within/", "1/price/", "1/withdraw/", "1/files/"]
ANSWERS = ["1/agree/", "1/decline/", "1/reopen/"]


@pytest.mark.parametrize(
    ("role", "pages", "forms", "answers"),
    [
        ("lead", 200, 200, 200), ("owner", 200, 403, 200), ("bookkeeper", 200, 403, 403), ("viewer", 200, 403, 403),
        ("outsider", 404, 404, 404),
    ],
)  # fmt: skip
def test_each_role_meets_what_it_may(
    line: LineItem, request: pytest.FixtureRequest, role: str, pages: int, forms: int, answers: int
):
    made = raised(line, 500)
    client = builders.signed_in(request.getfixturevalue(role))
    for paths, expected in ((PAGES, pages), (FORMS, forms), (ANSWERS, answers)):
        got = {path: client.get(at(line.project, path.replace("1/", f"{made.pk}/"))).status_code for path in paths}
        assert got == dict.fromkeys(paths, expected)


@pytest.mark.parametrize("role", ["bookkeeper", "viewer", "outsider"])
def test_who_may_not_changes_nothing_by_sending(line: LineItem, request: pytest.FixtureRequest, role: str):
    made = raised(line, 500)
    client = builders.signed_in(request.getfixturevalue(role))
    sent = typed(line, note="x", version=1, on=TODAY.isoformat(), paid_from="line")
    for path in (
        "new/",
        *(f"{made.pk}/{deed}/" for deed in ("price", "agree", "decline", "withdraw", "reopen", "undo", "files")),
    ):
        assert client.post(at(line.project, path), sent).status_code in (403, 404)
    assert Change.objects.count() == 1 and Change.objects.get().version == 1


@pytest.mark.parametrize("role", ["bookkeeper", "viewer"])
def test_who_may_only_read_is_offered_no_deeds(line: LineItem, request: pytest.FixtureRequest, role: str):
    made = raised(line, 500)
    client = builders.signed_in(request.getfixturevalue(role))
    page = text(client.get(at(line.project, f"{made.pk}/"))) + text(client.get(at(line.project)))
    assert not [deed for deed in ("agree/", "decline/", "price/", "withdraw/", "changes/new/") if deed in page]


def test_a_change_of_another_project_is_not_found(line: LineItem, lead: User, as_lead: Client):
    foreign = raised(let(changing.build(lead)), 500)
    for path in ("", "paper/", "agree/", "price/", "decline/", "withdraw/", "reopen/"):
        assert as_lead.get(at(line.project, f"{foreign.pk}/{path}")).status_code == 404


def test_an_agreed_ceiling_offers_its_price(line: LineItem, lead: User, as_lead: Client):
    made = agree(raised(line, 1_000, is_ceiling=True), lead)
    assert "It came to less: price it" in text(as_lead.get(at(line.project, f"{made.pk}/")))
    sent = {"amount": "1,100", "way": "price", "chance": "1", "version": 2}
    answer = as_lead.post(at(line.project, f"{made.pk}/price/"), sent)
    assert answer.status_code == 422 and "take it up again to ask for another price" in text(answer)


def test_the_signed_paper_is_put_to_a_change_later(line: LineItem, as_lead: Client):
    made = raised(line, 500, agree=True)
    sent = {"files": [builders.upload("signed.pdf"), builders.upload("after.jpg", JPEG)]}
    answer = as_lead.post(at(line.project, f"{made.pk}/files/"), sent, follow=True)
    assert "Added signed.pdf, after.jpg." in text(answer) and made.attachments.count() == 2
    assert Change.objects.get().version == made.version


def test_a_file_that_is_none_of_the_kinds_does_not_hold_up_the_others(line: LineItem, as_lead: Client):
    made = raised(line, 500)
    sent = {"files": [builders.upload("signed.pdf"), builders.upload("virus.pdf", b"MZ" + b"\x00" * 80)]}
    answer = as_lead.post(at(line.project, f"{made.pk}/files/"), sent)
    assert answer.status_code == 422 and "none of the kinds that are taken" in text(answer)
    assert [row.attachment.name for row in made.attachments.all()] == ["signed.pdf"]
    empty = as_lead.post(at(line.project, f"{made.pk}/files/"), {"kept": "7"})
    assert empty.status_code == 422 and "Choose a file." in text(empty)


def test_who_pays_may_be_chosen_anew_when_the_contingency_does_not_hold_it(line: LineItem, owner: User):
    made = raised(line, 8_500, paid_from="contingency")
    client, sent = builders.signed_in(owner), {"amount": "8,500", "on": TODAY.isoformat(), "version": made.version}
    refused = client.post(at(line.project, f"{made.pk}/agree/"), sent | {"paid_from": "contingency"})
    assert refused.status_code == 422 and "Only £8,000 is left of the contingency; choose who else pays" in text(
        refused
    )
    client.post(at(line.project, f"{made.pk}/agree/"), sent | {"paid_from": "owner"})
    made.refresh_from_db()
    assert (made.state, made.paid_from) == ("agreed", "owner") and whole(line.project)


def test_a_wish_is_not_offered_the_contingency_when_it_is_agreed(line: LineItem, as_lead: Client):
    wish = raised(line, 500, reason="owner's wish", paid_from="owner")
    need = raised(line, 600)
    offered = [text(as_lead.get(at(line.project, f"{made.pk}/agree/"))) for made in (wish, need)]
    assert ['value="contingency"' in page for page in offered] == [False, True]
