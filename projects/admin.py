"""Accounts, for whoever runs the program; builds are run on their own pages, so that no rule and no trail row is passed by."""

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.http import HttpRequest

from projects.models import User


@admin.register(User)
class AccountAdmin(UserAdmin):
    def has_delete_permission(self, request: HttpRequest, obj: object = None) -> bool:
        """An account is closed, not deleted: the trail names it."""
        return False
