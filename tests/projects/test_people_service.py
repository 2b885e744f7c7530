"""The life of an invitation and of a membership, against the rules of the house (no outside source)."""

from datetime import timedelta

import pytest

from projects.faults import Refused, Stale
from projects.models import Invitation, Membership, Project, Role, User
from projects.services import people
from tests import builders
from tests.builders import NOW


def invited(project: Project, role: str = Role.OWNER) -> people.Invited:
    return people.invite(project, role=role, note="Olu", by=builders.lead_of(project), now=NOW)


def standing(project: Project, user: User) -> Membership:
    return Membership.objects.get(project=project, user=user)


def test_only_the_hash_of_the_secret_is_kept(project: Project):
    made = invited(project)
    row = Invitation.objects.get()
    assert len(made.secret) >= 43 and row.secret_hash == people.hash_of(made.secret)
    assert made.secret not in str(Invitation.objects.values().get()) + str(list(project.trail.values()))


def test_a_link_makes_its_bearer_a_member(project: Project, outsider: User):
    membership = people.accept_invitation(invited(project, Role.BOOKKEEPER).secret, by=outsider, now=NOW)
    assert (membership.project, membership.role, membership.left_at) == (project, Role.BOOKKEEPER, None)
    assert project.trail.order_by("-pk")[0].summary == "Out Sider joined as bookkeeper"


def test_a_link_works_once(project: Project, outsider: User):
    secret = invited(project).secret
    people.accept_invitation(secret, by=outsider, now=NOW)
    with pytest.raises(Refused, match="no longer works"):
        people.accept_invitation(secret, by=builders.person("third"), now=NOW)


@pytest.mark.parametrize(("later", "works"), [(timedelta(days=14, seconds=-1), True), (timedelta(days=14), False)])
def test_a_link_works_for_fourteen_days(later: timedelta, works: bool, project: Project, outsider: User):
    secret = invited(project).secret
    if works:
        people.accept_invitation(secret, by=outsider, now=NOW + later)
    else:
        with pytest.raises(Refused, match="no longer works"):
            people.accept_invitation(secret, by=outsider, now=NOW + later)
    assert Membership.objects.filter(project=project, user=outsider).exists() == works


def test_a_link_that_was_taken_back_is_closed(project: Project, lead: User, outsider: User):
    made = invited(project)
    for _turn in range(2):
        people.revoke_invitation(made.invitation, by=lead, now=NOW)
    assert project.trail.filter(verb="took back").count() == 1
    with pytest.raises(Refused, match="no longer works"):
        people.accept_invitation(made.secret, by=outsider, now=NOW)


def test_a_used_link_is_not_taken_back(project: Project, lead: User, outsider: User):
    made = invited(project)
    people.accept_invitation(made.secret, by=outsider, now=NOW)
    with pytest.raises(Refused, match="has joined"):
        people.revoke_invitation(made.invitation, by=lead, now=NOW)


def test_a_made_up_secret_gets_the_same_answer(project: Project, outsider: User):
    with pytest.raises(Refused, match="no longer works"):
        people.accept_invitation("made-up", by=outsider, now=NOW)


def test_a_member_does_not_use_up_a_link(project: Project, lead: User):
    made = invited(project)
    with pytest.raises(Refused, match="already"):
        people.accept_invitation(made.secret, by=lead, now=NOW)
    assert people.is_open(Invitation.objects.get(pk=made.invitation.pk), NOW)
    assert standing(project, lead).role == Role.LEAD


def test_who_had_left_comes_back_by_a_new_link(project: Project, lead: User, owner: User):
    people.remove_member(standing(project, owner), by=lead, now=NOW)
    people.accept_invitation(invited(project, Role.VIEWER).secret, by=owner, now=NOW)
    assert (standing(project, owner).role, standing(project, owner).left_at) == (Role.VIEWER, None)


@pytest.mark.parametrize("role", ["", "king", "Lead"])
def test_an_unknown_role_is_refused(role: str, project: Project):
    with pytest.raises(Refused) as fault:
        invited(project, role)
    assert fault.value.field == "role" and not Invitation.objects.exists()


def test_open_links_have_a_limit(project: Project, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(people, "MOST_OPEN", 1)
    invited(project)
    with pytest.raises(Refused, match="take some back"):
        invited(project)


# --- With a new account ------------------------------------------------------------------------------------------

ACCOUNT = people.NewAccount(name="Nia New", username="nia", password="a long enough secret")


def test_a_newcomer_gets_an_account_and_is_on_the_build(project: Project):
    membership = people.accept_with_account(invited(project).secret, ACCOUNT, now=NOW)
    user = User.objects.get(username="nia")
    assert membership.user == user and user.called == "Nia New"
    assert user.check_password(ACCOUNT.password) and not user.is_staff and not user.is_superuser


@pytest.mark.parametrize(
    ("name", "username", "password", "field"),
    [
        ("", "nia", ACCOUNT.password, "name"),
        ("Nia", "", ACCOUNT.password, "username"),
        ("Nia", "n i a", ACCOUNT.password, "username"),
        ("Nia", "LEAD", ACCOUNT.password, "username"),
        ("Nia", "nia", "short", "password"),
        ("Nia", "nia-longer-name", "nia-longer-name", "password"),
    ],
)
def test_a_slip_makes_no_account_and_leaves_the_link_open(
    name: str, username: str, password: str, field: str, project: Project
):
    made = invited(project)
    account = people.NewAccount(name, username, password)
    with pytest.raises(Refused) as fault:
        people.accept_with_account(made.secret, account, now=NOW)
    assert fault.value.field == field and User.objects.count() == 1
    assert people.is_open(Invitation.objects.get(pk=made.invitation.pk), NOW)


def test_a_closed_link_makes_no_account(project: Project, lead: User):
    made = invited(project)
    people.revoke_invitation(made.invitation, by=lead, now=NOW)
    with pytest.raises(Refused, match="no longer works"):
        people.accept_with_account(made.secret, ACCOUNT, now=NOW)
    assert not User.objects.filter(username="nia").exists()


# --- Roles -------------------------------------------------------------------------------------------------------


def test_a_role_changes_and_bears_what_was(project: Project, lead: User, owner: User):
    people.change_role(standing(project, owner), role=Role.VIEWER, was=Role.OWNER, by=lead, now=NOW)
    assert standing(project, owner).role == Role.VIEWER
    assert project.trail.order_by("-pk")[0].details == {"was": "owner", "is": "viewer"}


def test_a_late_change_of_role_is_told(project: Project, lead: User, owner: User):
    people.change_role(standing(project, owner), role=Role.VIEWER, was=Role.OWNER, by=lead, now=NOW)
    with pytest.raises(Stale):
        people.change_role(standing(project, owner), role=Role.LEAD, was=Role.OWNER, by=lead, now=NOW)


def test_the_same_role_writes_nothing(project: Project, lead: User, owner: User):
    before = project.trail.count()
    people.change_role(standing(project, owner), role=Role.OWNER, was=Role.VIEWER, by=lead, now=NOW)
    assert project.trail.count() == before


def test_the_last_lead_stays(project: Project, lead: User, owner: User):
    own = standing(project, lead)
    with pytest.raises(Refused, match="needs a lead"):
        people.change_role(own, role=Role.OWNER, was=Role.LEAD, by=lead, now=NOW)
    with pytest.raises(Refused, match="needs a lead"):
        people.remove_member(own, by=lead, now=NOW)
    assert standing(project, lead).role == Role.LEAD and standing(project, lead).left_at is None


def test_a_lead_may_go_when_another_is_there(project: Project, lead: User, owner: User):
    people.change_role(standing(project, owner), role=Role.LEAD, was=Role.OWNER, by=lead, now=NOW)
    people.remove_member(standing(project, lead), by=lead, now=NOW)
    assert standing(project, lead).left_at == NOW
    with pytest.raises(Refused, match="needs a lead"):
        people.remove_member(standing(project, owner), by=owner, now=NOW)


def test_who_has_left_is_neither_changed_nor_removed_again(project: Project, lead: User, owner: User):
    gone = people.remove_member(standing(project, owner), by=lead, now=NOW)
    with pytest.raises(Refused, match="no longer on"):
        people.remove_member(gone, by=lead, now=NOW)
    with pytest.raises(Refused, match="no longer on"):
        people.change_role(gone, role=Role.LEAD, was=Role.OWNER, by=lead, now=NOW)
