"""The sequence: calendars, activities and their links, hold points, deliveries, and what the coming weeks still need.

The dates and floats kept with an activity are written by `services.plan.settle` alone and can be proved again at any
time by `services.plan.drifted`. What was found at a check, who signed and who overruled is written once.
"""

from schedule.models.coming import Delivery, DeliveryStage, Miss, Need, Promise, PromiseWeek
from schedule.models.gates import (
    HoldCheck,
    HoldPoint,
    HoldSigner,
    HoldStop,
    Overrule,
    Proof,
    ProofFile,
    Signature,
)
from schedule.models.plan import (
    Activity,
    Baseline,
    BaselineDate,
    Closure,
    Link,
    Plan,
    Question,
    WorkCalendar,
)

__all__ = [
    "Activity",
    "Baseline",
    "BaselineDate",
    "Closure",
    "Delivery",
    "DeliveryStage",
    "HoldCheck",
    "HoldPoint",
    "HoldSigner",
    "HoldStop",
    "Link",
    "Miss",
    "Need",
    "Overrule",
    "Plan",
    "Promise",
    "PromiseWeek",
    "Proof",
    "ProofFile",
    "Question",
    "Signature",
    "WorkCalendar",
]
