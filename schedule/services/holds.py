"""Hold points: what is looked at, what was found, who signed, and who went over it."""

from schedule.models import Activity


def check_may_start(activity: Activity) -> None:
    """Refuse to start an activity that a hold point stops and nobody has overruled (ADR 0404)."""
