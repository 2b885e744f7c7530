"""What a sheet leaves open, as questions with a default that is shown, and what was answered.

Reading goes on with the default of an open question, so that its effect is seen; nothing is brought in before every
question is answered. An answer that does no longer fit, since the sheet is read in another way now, is open again.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal, InvalidOperation

from budget.calc.sheets import cells
from units.amounts import NotAnAmount, parse_amount

#: Before an answer that was typed instead of chosen.
TYPED = "="
LONGEST_NAME = 160


@dataclass(frozen=True, slots=True)
class Question:
    """One thing that somebody has to say.

    Args:
        key: what it is about, the same each time the sheet is read: "twin:15".
        kind: which question, for its words.
        row, column: from 1, or 0 where it is about more than one.
        given: what the cell says.
        about: what the question's words need besides.
        options: the answers to choose from.
        default: the answer that is taken as long as none is given; "" for none.
        typed: "", or what may be typed instead: "name", "amount", "rate", "date".
        answer: what was answered, or None.
        fault: why the answer does not do.
    """

    key: str
    kind: str
    row: int = 0
    column: int = 0
    given: str = ""
    about: tuple[str, ...] = ()
    options: tuple[str, ...] = ()
    default: str = ""
    typed: str = ""
    answer: str | None = None
    fault: str = ""

    @property
    def open(self) -> bool:
        return self.answer is None or bool(self.fault)

    @property
    def settled(self) -> str:
        """The answer, or the default while there is none."""
        return self.default if self.open else str(self.answer)


def typed(answer: str) -> str | None:
    """What was typed, or None where an option was chosen."""
    return answer[len(TYPED) :].strip() if answer.startswith(TYPED) else None


@dataclass(slots=True)
class Asked:
    """The questions of one reading, in the order they came up."""

    answers: Mapping[str, str]
    mark: str
    today: date
    _by_key: dict[str, Question] = field(default_factory=dict)

    @property
    def questions(self) -> tuple[Question, ...]:
        return tuple(self._by_key.values())

    def ask(self, question: Question, currency: str = "") -> str:
        """Note a question, once. Returns: what it is settled by, its default while it is open.

        Args:
            currency: of an amount that may be typed.
        """
        if question.key in self._by_key:
            return self._by_key[question.key].settled
        given = self.answers.get(question.key)
        fault = "" if given is None else self._fault(question, given, currency)
        asked = Question(
            question.key, question.kind, question.row, question.column, question.given, question.about, question.options,
            question.default, question.typed, given, fault,
        )  # fmt: skip
        self._by_key[question.key] = asked
        return asked.settled

    def _fault(self, question: Question, given: str, currency: str) -> str:
        text = typed(given)
        if text is None:
            return "" if given in question.options else "not an option"
        if not question.typed:
            return "not an option"
        check: Callable[[str, str], str] = {
            "name": _name_fault, "amount": self._amount_fault, "rate": self._rate_fault, "date": self._date_fault,
        }[question.typed]  # fmt: skip
        return check(text, currency)

    def _amount_fault(self, text: str, currency: str) -> str:
        try:
            minor = parse_amount(text, currency=currency, decimal_mark=self.mark)
        except NotAnAmount:
            return "no amount"
        return "below zero" if minor < 0 else ""

    def _rate_fault(self, text: str, _currency: str) -> str:
        return "" if self.rate(text) is not None else "no rate"

    def _date_fault(self, text: str, _currency: str) -> str:
        found = as_date(text)
        return "no date" if found is None else "in the future" if found > self.today else ""

    def amount(self, answer: str, currency: str) -> int | None:
        """The amount of an answer [minor units]; None where it says that there is none."""
        text = typed(answer)
        if text is not None:
            return parse_amount(text, currency=currency, decimal_mark=self.mark)
        return int(answer) if answer.lstrip("-").isdigit() else None

    def rate(self, text: str) -> Decimal | None:
        """An exchange rate as it was typed, or None."""
        try:
            found = Decimal(text.replace(",", ".") if self.mark == "," else text)
        except InvalidOperation:
            return None
        return found if found.is_finite() and 0 < found < 1_000_000 and _places(found) <= 10 else None


def _places(number: Decimal) -> int:
    exponent = number.as_tuple().exponent
    return -exponent if isinstance(exponent, int) and exponent < 0 else 0


def _name_fault(text: str, _currency: str) -> str:
    return "no name" if not any(map(str.isalpha, text)) else "too long" if len(text.casefold()) > LONGEST_NAME else ""


def as_date(text: str) -> date | None:
    """A date as the field writes it, or as it can be read in one way only."""
    order = cells.order_told({text})[0]
    found = cells.date_reader(order, earliest=date(1990, 1, 1), latest=date(2150, 12, 31))(text)
    return found if isinstance(found, date) else None
