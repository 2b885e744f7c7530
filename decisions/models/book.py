"""The savings book's own entries: what was saved, put off or added on lines that no decision let."""

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from budget.models import LineItem
from decisions.models.options import Decision
from decisions.models.records import SavingKind
from projects.append_only import AppendOnly
from projects.models import Project

USER = settings.AUTH_USER_MODEL


class BookEntry(AppendOnly):
    """One step of an own entry; what follows it takes its place, a reversal takes it back.

    Decisions, changes and exchange rates write their part of the book themselves; an own entry never repeats them.
    """

    class State(models.TextChoices):
        IDEA = "idea", _("idea")
        PRICED = "priced", _("priced")
        DECIDED = "decided", _("decided")

    class How(models.TextChoices):
        """How the same function came to cost less."""

        BETTER_QUOTE = "better quote", _("a better quote")
        NEGOTIATED = "negotiated", _("the price talked down")
        OTHER_WAY = "other way", _("another way to build it")

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="book_entries")
    line = models.ForeignKey(LineItem, on_delete=models.PROTECT, related_name="book_entries")
    #: An open decision that the idea belongs to; once it is taken, its record holds its savings.
    decision = models.ForeignKey(Decision, null=True, blank=True, on_delete=models.PROTECT, related_name="book_entries")
    kind = models.CharField(max_length=14, choices=SavingKind)
    how = models.CharField(max_length=12, choices=How, blank=True)
    amount_minor = models.BigIntegerField()
    what = models.CharField(max_length=200)
    note = models.CharField(max_length=300, blank=True)
    state = models.CharField(max_length=8, choices=State)
    entered_on = models.DateField()
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")
    follows = models.OneToOneField("self", null=True, blank=True, on_delete=models.PROTECT, related_name="followed_by")
    reverses = models.OneToOneField("self", null=True, blank=True, on_delete=models.PROTECT, related_name="reversal")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(follows=None) | models.Q(reverses=None), name="book_entry_follows_or_reverses"
            )
        ]

    def __str__(self) -> str:
        return self.what
