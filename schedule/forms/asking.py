"""A question as it stands in the address of its page: steps, what they cost besides, and the kept question it began with."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.http import QueryDict

from projects import display
from projects.models import Project
from schedule.calc import steps
from schedule.calc.steps import MOST_STEPS, BadStep, Step
from schedule.forms.questions import BY_KIND, CostForm, StepForm, builder
from schedule.selectors.questions import Ground
from units import amounts


@dataclass(frozen=True, slots=True)
class Start:
    """What the builder begins with, as pages of activities, deliveries and calendars ask for it.

    `about` is the code of an activity, `calendar` the name of a calendar; `late`, as it was sent, asks at once what
    happens if the activity comes so many days late.
    """

    about: str = ""
    calendar: str = ""
    late: str = ""

    @property
    def step(self) -> Step | None:
        try:
            return steps.read(f"late{steps.SIGN}{self.late}{steps.SIGN}{self.about}")
        except BadStep:
            return None


NO_START = Start()


@dataclass(frozen=True)
class Asking:
    """What is asked, and the form that adds to it."""

    steps: tuple[Step, ...]
    #: Steps that could not be read, which are left out.
    unread: int
    cost: CostForm
    #: The kept question that it began with, by its number; "" for none.
    began: str
    forms: tuple[StepForm, ...]
    sent: StepForm | None
    start: Start

    @property
    def cost_minor(self) -> int:
        return (self.cost.cleaned_data.get("cost") or 0) if self.cost.is_bound and self.cost.is_valid() else 0

    @property
    def is_asked(self) -> bool:
        """Whether anything is asked; the kept questions are not all answered beside it then."""
        return bool(self.steps or self.began)

    @property
    def added(self) -> str | None:
        """The address with the step that was sent, or None where none was or it has to be mended."""
        if self.start.step is not None:
            return self.query([*self.steps, self.start.step], self.cost_minor)
        if self.sent is None or not self.sent.is_valid():
            return None
        return self.query([*self.steps, self.sent.step()], self.cost_minor + self.sent.cost_minor)

    @property
    def opened(self) -> str:
        """The kind of the form that is open: the one that has to be mended, else the one that is begun."""
        if self.sent is not None:
            return self.sent.kind
        return "late" if self.start.about else "away" if self.start.calendar else ""

    @property
    def here(self) -> str:
        """The address of what is asked."""
        return self.query(self.steps, self.cost_minor)

    def without(self, place: int) -> str:
        """The address without one of the steps."""
        return self.query([*self.steps[:place], *self.steps[place + 1 :]], self.cost_minor)

    def query(self, asked: Sequence[Step], cost_minor: int) -> str:
        return query(asked, cost_minor, began=self.began, project=self.cost.project)

    @property
    def carried(self) -> list[tuple[str, str]]:
        """What travels along in hidden fields."""
        return pairs(self.steps, self.cost_minor, began=self.began, project=self.cost.project)


def pairs(asked: Sequence[Step], cost_minor: int, *, began: str, project: Project) -> list[tuple[str, str]]:
    found = [("c", step.token) for step in asked[:MOST_STEPS]]
    if cost_minor:
        found.append(("cost", written(cost_minor, project)))
    return [*found, ("question", began)] if began else found


def query(asked: Sequence[Step], cost_minor: int, *, began: str = "", project: Project) -> str:
    """The question as the query of an address, with its mark; "" for none."""
    found = urlencode(pairs(asked, cost_minor, began=began, project=project))
    return f"?{found}" if found else ""


def written(minor: int, project: Project) -> str:
    """An amount as a field of a form takes it."""
    mark = display.style_of(project.currency, project.locale).decimal
    return amounts.for_entry(minor, currency=project.currency, decimal_mark=mark)


def read(data: QueryDict, ground: Ground, project: Project, *, start: Start = NO_START) -> Asking:
    """Read a question from the query of an address; what cannot be read is left out and counted."""
    found: list[Step] = []
    unread = 0
    for token in data.getlist("c")[:MOST_STEPS]:
        try:
            found.append(steps.read(token))
        except BadStep:
            unread += 1
    forms = builder(_entered(data), ground, project, about=start.about, calendar=start.calendar)
    began = data.get("question", "")
    return Asking(
        steps=tuple(found),
        unread=unread,
        cost=CostForm({"cost": data["cost"]} if data.get("cost") else None, project=project),
        began=began if began.isascii() and began.isdigit() and len(began) < 10 else "",
        forms=forms,
        sent=next((form for form in forms if form.is_bound), None),
        start=start,
    )


def _entered(data: QueryDict) -> Mapping[str, Any]:
    return data if data.get("kind") in BY_KIND else QueryDict()
