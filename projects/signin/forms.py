from django import forms
from django.contrib.auth.forms import AuthenticationForm, UsernameField
from django.utils.translation import gettext_lazy as _


class SignInForm(AuthenticationForm):
    """Django's own, in our words, and with its longest name held to: the tally of wrong passwords keeps names, too."""

    username = UsernameField(max_length=150, widget=forms.TextInput(attrs={"autofocus": True}))

    error_messages = {
        **AuthenticationForm.error_messages,
        "invalid_login": _("This name and this password do not belong together. Both tell capital letters apart."),
    }
