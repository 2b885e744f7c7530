from django.contrib.auth.forms import AuthenticationForm
from django.utils.translation import gettext_lazy as _


class SignInForm(AuthenticationForm):
    """Django's own, in our words."""

    error_messages = {
        **AuthenticationForm.error_messages,
        "invalid_login": _("This name and this password do not belong together. Both tell capital letters apart."),
    }
