from typing import Any

from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class BudgetConfig(AppConfig):
    name = "budget"
    verbose_name = _("budget")
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from projects.signals import project_started

        project_started.connect(_lay_out, dispatch_uid="budget.lay_out")


def _lay_out(sender: object, **told: Any) -> None:
    from budget.services import starting

    starting.lay_out(**{name: value for name, value in told.items() if name != "signal"})
