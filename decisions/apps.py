from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class DecisionsConfig(AppConfig):
    name = "decisions"
    verbose_name = _("decisions")
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Tell the budget who knows the dates of work."""
        from budget.selectors import work_dates as asked
        from decisions.selectors import work_dates

        asked.register(work_dates.of_lines)
