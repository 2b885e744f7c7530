from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class DecisionsConfig(AppConfig):
    name = "decisions"
    verbose_name = _("decisions")
    default_auto_field = "django.db.models.BigAutoField"
