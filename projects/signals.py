"""What the apps above may hear of: the project knows nothing of what they do with it."""

from django.dispatch import Signal

#: Sent inside the transaction that starts a project, with `project`, `by`, `now`, `today` and
#: `contingency_minor` [minor units of the project's currency, or None], so that the apps above can lay out their own part.
project_started = Signal()

#: Sent inside the transaction that writes an exchange rate, with `rate` (the row), `by`, `now` and `today`, so that what
#: is reckoned at it follows at once.
rate_set = Signal()
