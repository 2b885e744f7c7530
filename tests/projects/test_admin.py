"""Whoever runs the program keeps accounts there, and nothing of a build."""

from django.contrib import admin
from django.test import Client

from projects.models import Project, User


def staff() -> Client:
    client = Client()
    client.force_login(
        User.objects.create_superuser("operator", password="a long enough secret"),
        "django.contrib.auth.backends.ModelBackend",
    )
    return client


def test_accounts_are_the_only_rows_of_ours_there():
    ours = {
        model.__name__
        for model in admin.site._registry
        if model._meta.app_label in {"projects", "budget", "decisions", "reports"}
    }
    assert ours == {"User"}


def test_an_account_is_closed_and_not_deleted(project: Project, lead: User):
    client = staff()
    assert client.get(f"/admin/projects/user/{lead.pk}/change/").status_code == 200
    assert client.post(f"/admin/projects/user/{lead.pk}/delete/", {"post": "yes"}).status_code == 403
    assert User.objects.filter(pk=lead.pk).exists()


def test_a_member_does_not_get_in(project: Project, lead: User):
    client = Client()
    client.force_login(lead, "django.contrib.auth.backends.ModelBackend")
    assert client.get("/admin/")["Location"].startswith("/admin/login/")


def test_who_runs_the_program_is_an_outsider_to_a_build(project: Project):
    assert staff().get(f"/p/{project.slug}/project/").status_code == 404
