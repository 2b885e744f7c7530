"""What one line of Today says."""

from dataclasses import dataclass
from datetime import date

from budget.selectors import changes, invoices
from decisions.selectors import overview as decisions
from decisions.selectors.deciding import Deadline
from projects import display
from schedule.models import Activity, Need
from schedule.selectors.deliveries import Arriving
from schedule.selectors.holds import Covering, Hold, Overruled

#: So many matters of a sort are shown; the others are folded away.
SHOWN = 4


@dataclass(frozen=True, slots=True)
class Matter:
    """One thing that waits. `kind` chooses the words; the rest is what they speak of [project minor units]."""

    kind: str
    days_left: int | None
    amount_minor: int
    decision: decisions.DueRow | None = None
    waiting: decisions.TakenRow | None = None
    line_id: int | None = None
    line: str = ""
    quote_id: int | None = None
    vendor: str = ""
    other: str = ""
    other_minor: int = 0
    names: tuple[str, ...] = ()
    on: date | None = None
    change: changes.ChangeRow | None = None
    bill: invoices.Row | None = None
    #: The currency of `amount_minor` where it is another than the project's.
    priced: display.InCurrency | None = None
    #: What the matter is about, where it is one of the sequence; until when a decision is needed by the plan.
    activity_id: int | None = None
    activity: Activity | None = None
    covering: Covering | None = None
    overruled: Overruled | None = None
    order: Arriving | None = None
    need: Need | None = None
    hold: Hold | None = None
    deadline: Deadline | None = None

    @property
    def late(self) -> bool:
        return self.days_left is not None and self.days_left < 0


@dataclass(frozen=True, slots=True)
class Group:
    """Matters of one sort under one heading, worst first; beyond the first few they are folded away."""

    kind: str
    matters: tuple[Matter, ...]

    @property
    def first(self) -> tuple[Matter, ...]:
        return self.matters[:SHOWN]

    @property
    def rest(self) -> tuple[Matter, ...]:
        return self.matters[SHOWN:]
