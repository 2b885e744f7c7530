"""What is known of a delivery: plain facts, and the figures that follow from them.

The rows are read in `selectors.deliveries`; the rules are in `calc.deliveries` (ADR 0408).
"""

from dataclasses import dataclass
from datetime import date
from functools import cached_property

from schedule.calc import deliveries as calc
from schedule.calc.deliveries import Jump, LastOrder, Way
from schedule.models import Activity, Delivery, DeliveryStage

#: An order this near is about to be late [calendar days]. Our choice.
SOON = 14
#: What nobody waits for is ordered last.
MANY = 10**6


@dataclass(frozen=True, slots=True)
class Stage:
    """A step on the way; `late` says that its day has passed and it is not done."""

    kind: str
    label: str
    due_on: date | None
    done_on: date | None
    paper: str
    paper_there: bool
    late: bool

    @property
    def paper_missing(self) -> bool:
        return bool(self.paper) and not self.paper_there


@dataclass(frozen=True, slots=True)
class Waits:
    """Work that waits for a thing."""

    pk: int
    code: str
    name: str
    starts_on: date | None
    trade: str

    def __str__(self) -> str:
        return f"{self.code} {self.name}"


@dataclass(frozen=True)
class Arriving:
    """One delivery with everything that is worked out for it.

    `needed_by` is the first day that something which follows starts; `latest_on` the last day on site before the opening
    moves; `order` the latest days to order for that, `order_for_work` for nothing to move at all; both None once it is ordered.
    """

    row: Delivery
    activity: Activity
    stages: tuple[Stage, ...]
    waits: tuple[Waits, ...]
    way: Way
    today: date
    order: LastOrder | None
    order_for_work: LastOrder | None
    jump: Jump | None
    #: Why no day to order by can be told, where the maker's calendar does not reach so far.
    fault: str = ""

    @property
    def pk(self) -> int:
        return self.row.pk

    @property
    def item(self) -> str:
        return self.row.item

    @property
    def arrived_on(self) -> date | None:
        site = next((one.done_on for one in self.stages if one.kind == DeliveryStage.Kind.ON_SITE), None)
        return site or self.activity.finished_on

    @property
    def expected_on(self) -> date | None:
        return self.arrived_on or self.activity.early_finish_on

    @property
    def needed_by(self) -> date | None:
        return min((one.starts_on for one in self.waits if one.starts_on), default=None)

    @property
    def needed_for(self) -> Waits | None:
        return next((one for one in self.waits if one.starts_on == self.needed_by), None)

    @property
    def days_in_hand(self) -> int | None:
        both = self.needed_by and self.expected_on
        return calc.days_in_hand(self.needed_by, self.expected_on) if both else None  # type: ignore[arg-type]

    @property
    def latest_on(self) -> date | None:
        return self.activity.target_finish_on or self.activity.late_finish_on

    @property
    def float_days(self) -> int:
        held = self.activity.target_float_days
        return self.activity.float_days if held is None else held

    @property
    def days_past(self) -> int:
        """Days by which it comes after the last day before the opening moves; none where it comes in time."""
        both = self.latest_on and self.expected_on and not self.arrived_on
        return max(0, (self.expected_on - self.latest_on).days) if both else 0  # type: ignore[operator]

    @property
    def promised_later(self) -> int:
        """Days by which the promised day is later than the plan; none where it is not."""
        both = self.row.promised_on and self.expected_on and not self.arrived_on
        return max(0, (self.row.promised_on - self.expected_on).days) if both else 0  # type: ignore[operator]

    @property
    def days_to_order(self) -> int | None:
        """Days left until the last day to begin with the order; below zero when it has passed; None once it is ordered."""
        return (self.order.begin_on - self.today).days if self.order else None

    @property
    def days_to_plan(self) -> int | None:
        """Days left until the last day to begin with the order that makes no work wait; None once it is ordered."""
        return (self.order_for_work.begin_on - self.today).days if self.order_for_work else None

    @property
    def next_order_on(self) -> date:
        """The first of the days by which an open order is to begin."""
        return min(one.begin_on for one in (self.order, self.order_for_work) if one)

    @property
    def spare_days(self) -> int:
        """What the list is ordered by: days until it is too late to order, or days that an ordered thing may still slip."""
        if self.days_to_order is not None:
            return self.days_to_order
        both = self.latest_on and self.expected_on
        return (self.latest_on - self.expected_on).days if both else MANY  # type: ignore[operator]

    @property
    def state(self) -> str:
        """How it stands, in a word: "there"; "past", on site after the opening has moved; "missed", too late to order; "soon",
        to order within two weeks; "plan soon", the same or work waits; "promised later" than the plan has it; or "in time".
        """
        if self.arrived_on:
            return "there"
        if self.days_past:
            return "past"
        if self.days_to_order is not None and self.days_to_order < 0:
            return "missed"
        if self.days_to_order is not None and self.days_to_order <= SOON:
            return "soon"
        if self.days_to_plan is not None and self.days_to_plan <= SOON:
            return "plan soon"
        return "promised later" if self.promised_later else "in time"

    @property
    def papers_missing(self) -> tuple[str, ...]:
        return tuple(one.paper for one in self.stages if one.paper_missing)

    @property
    def done(self) -> Stage | None:
        """The last stage that is done."""
        return next((one for one in reversed(self.stages) if one.done_on), None)

    @property
    def next(self) -> Stage | None:
        """The first stage after the last one done."""
        after = self.stages[self.stages.index(self.done) + 1 :] if self.done else self.stages
        return after[0] if after else None

    @property
    def late_stages(self) -> tuple[Stage, ...]:
        return tuple(one for one in self.stages if one.late)


@dataclass(frozen=True)
class Board:
    """Every delivery of a project, the most urgent first, what is there last."""

    rows: tuple[Arriving, ...]

    @cached_property
    def waited_for(self) -> tuple[Arriving, ...]:
        return tuple(row for row in self.rows if row.state != "there")

    @cached_property
    def there(self) -> tuple[Arriving, ...]:
        return tuple(row for row in self.rows if row.state == "there")

    @cached_property
    def urgent(self) -> tuple[Arriving, ...]:
        """What is late, about to be late, or promised later than the plan says."""
        return tuple(row for row in self.rows if row.state not in {"there", "in time"})

    @cached_property
    def next_order(self) -> Arriving | None:
        """The order that is next to become late: for the work that waits for it, or for the opening."""
        open_orders = [row for row in self.waited_for if row.order or row.order_for_work]
        return min(open_orders, key=lambda row: row.next_order_on, default=None)
