from typing import Any

from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class BudgetConfig(AppConfig):
    name = "budget"
    verbose_name = _("budget")
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from projects.signals import project_started, rate_set

        project_started.connect(_lay_out, dispatch_uid="budget.lay_out")
        rate_set.connect(_follow_rate, dispatch_uid="budget.follow_rate")


def _lay_out(sender: object, **told: Any) -> None:
    from budget.services import starting

    starting.lay_out(**{name: value for name, value in told.items() if name != "signal"})


def _follow_rate(sender: object, **told: Any) -> None:
    from budget.services import rates

    rates.follow(**{name: value for name, value in told.items() if name != "signal"})
