"""Decisions: a question, the ways to build it, and, once taken, a record that is frozen for good.

This app owns every table that ties an option to money or to the sequence. A record never changes; approving, declining and reopening
are further rows beside it. The savings book keeps own entries for what no decision saved.
"""

from decisions.models.book import (
    BookEntry,
)
from decisions.models.options import (
    AdjustAxis,
    CheckResult,
    CostItem,
    Decision,
    DecisionLine,
    Effect,
    MustPass,
    Option,
)
from decisions.models.plan import ActivityLine, DecisionActivity, OptionPlan, RecordPlan
from decisions.models.records import (
    Approval,
    Record,
    RecordAgreement,
    RecordDeclined,
    RecordEstimate,
    RecordKnockOn,
    Reopening,
    Saving,
    SavingKind,
    Taking,
)

__all__ = [
    "ActivityLine",
    "AdjustAxis",
    "Approval",
    "BookEntry",
    "CheckResult",
    "CostItem",
    "Decision",
    "DecisionActivity",
    "DecisionLine",
    "Effect",
    "MustPass",
    "Option",
    "OptionPlan",
    "Record",
    "RecordAgreement",
    "RecordDeclined",
    "RecordEstimate",
    "RecordKnockOn",
    "RecordPlan",
    "Reopening",
    "Saving",
    "SavingKind",
    "Taking",
]
