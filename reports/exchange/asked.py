"""The sentences for what a practitioner's own sheet leaves open: the question, its answers, and why an answer fails."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from budget.calc.sheets.asking import TYPED, Question, as_date, typed
from budget.calc.sheets.grid import column_name
from projects import display
from projects.display import InCurrency
from projects.models import Project
from units.reading import shown


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer to choose: its value and its words; `taken` is the one that stands or is suggested."""

    value: str
    words: str
    taken: bool


@dataclass(frozen=True, slots=True)
class Part:
    """A further entry of a question, for one of its trades."""

    key: str
    label: str
    value: str


@dataclass(frozen=True, slots=True)
class Asked:
    """A question in words. `typed` is the kind of entry that may be typed, or ""; `answer` says what stands."""

    key: str
    open: bool
    title: str
    why: str
    place: str
    answers: tuple[Answer, ...]
    typed: str
    typed_label: str
    typed_value: str
    typed_taken: bool
    prefix: str
    parts: tuple[Part, ...]
    fault: str
    settled: str


@dataclass(frozen=True, slots=True)
class _Speaker:
    """What the words need to know: the project, and what was answered."""

    project: Project
    trades: Mapping[str, str]
    answers: Mapping[str, str]

    def money(self, minor: str, currency: str = "") -> str:
        return display.money(int(minor), InCurrency(currency or self.project.currency, self.project.locale))


def explain(question: Question, project: Project, *, trades: Mapping[str, str], answers: Mapping[str, str]) -> Asked:
    """Put a question into words.

    Args:
        trades: {code: name} of the project's trades.
        answers: what was answered so far.
    """
    speaker = _Speaker(project, trades, answers)
    title, why, labels = WORDS[question.kind](question, speaker)
    standing = question.answer if question.answer is not None else question.default
    text = typed(standing)
    choices = tuple(Answer(value, labels[value], value == standing) for value in question.options)
    said = next((choice.words for choice in choices if choice.taken), text or "")
    if question.typed == "date" and (on := as_date(said)):
        said = display.day(on, project.locale)
    return Asked(
        key=question.key, open=question.open, title=title, why=why, place=_place(question), answers=choices, typed=question.typed,
        typed_label=labels.get(TYPED, ""), typed_value=text or "", typed_taken=text is not None or not standing,
        prefix=display.symbol(InCurrency(question.about[1], project.locale)) if question.kind == "cell" else "",
        parts=_parts(question, answers), fault=_fault(question), settled=said,
    )  # fmt: skip


def _place(question: Question) -> str:
    if question.row and question.column:
        return f"{column_name(question.column)}{question.row}"
    if question.row:
        return _("row %d") % question.row
    return _("column %s") % column_name(question.column) if question.column else ""


def _fault(question: Question) -> str:
    words = {
        "": "",
        "not an option": _("Choose one of the answers; the sheet is read in another way now."),
        "no name": _("Write a name."),
        "too long": _("Write a name of at most 160 letters."),
        "no amount": _("Write an amount in digits, such as 1250.50."),
        "below zero": _("Write an amount of zero or more."),
        "no rate": _("Write a rate above zero, such as 0.86."),
        "no date": _("Choose a date."),
        "in the future": _("Choose a date that is not in the future."),
    }
    return words[question.fault]


def _parts(question: Question, answers: Mapping[str, str]) -> tuple[Part, ...]:
    """For a column of quotes, a further vendor for each trade where there are several."""
    if question.kind != "vendor" or len(question.about) < 3:
        return ()
    keys = ((f"{question.key}:{trade.casefold()}", trade) for trade in question.about[1:])
    return tuple(Part(key, trade, typed(answers.get(key, "")) or "") for key, trade in keys)


# --- One function a question: its title, why it is asked, and the words of its answers. -----------------------------

Words = tuple[str, str, dict[str, str]]


def _mark(question: Question, _speaker: _Speaker) -> Words:
    both = _("Some amounts part them by a point, others by a comma; then 1.234 can be read in two ways.")
    other = _("Some amounts part them in another way than the project does; then 1.234 can be read in two ways.")
    return (
        _("What parts the decimals in this sheet?"),
        both if len(question.about) > 1 else other,
        {".": _("a point: 1,234.50"), ",": _("a comma: 1.234,50")},
    )


def _vendor(question: Question, _speaker: _Speaker) -> Words:
    prices = int(question.about[0])
    named = {"column": column_name(question.column), "given": shown(question.given) or _("no heading"), "count": prices}
    title = ngettext(
        "Whose quote stands in column %(column)s, “%(given)s”?", "Whose quotes stand in column %(column)s, “%(given)s”?", prices
    )  # fmt: skip
    why = ngettext("It holds %(count)d price.", "It holds %(count)d prices.", prices)
    labels = {TYPED: _("Quotes of"), "none": _("No quotes; keep them as text beside the lines")}
    return title % named, why % named, labels


def _date(question: Question, _speaker: _Speaker) -> Words:
    printed = question.about[0] == "printed"
    why = _("The sheet gives none for its quotes; it was printed on the day below.") if printed else _(
        "The sheet gives none for its quotes; today is suggested."
    )  # fmt: skip
    return _("Which date do the quotes bear?"), why, {TYPED: _("Date of the quotes")}


def _rate(question: Question, _speaker: _Speaker) -> Words:
    code, own = question.about
    return (
        _("What is one %(code)s worth in %(own)s?") % {"code": code, "own": own},
        _("The sheet has amounts in %(code)s, and the project has no budget rate for it. The rate is kept with each quote.")
        % {"code": code},
        {
            TYPED: _("%(own)s for one %(code)s") % {"code": code, "own": own},
            "none": _("Keep amounts in %s as text beside the lines") % code,
        },
    )  # fmt: skip


def _trade(question: Question, speaker: _Speaker) -> Words:
    named = {"given": shown(question.given)}
    labels = {code: f"{code} {speaker.trades.get(code, '')}" for code in question.options}
    labels |= {"new": _("A trade of its own, “%(given)s”") % named, TYPED: _("A new trade called")}
    if not question.given:
        return _("Which trade do the rows belong to that name none?"), "", labels
    title = _("Which trade is “%(given)s”?") % named
    return title, _("The project has no trade of that name, and one that is near."), labels


def _twin(question: Question, _speaker: _Speaker) -> Words:
    named = {"row": question.row, "given": shown(question.given), "other": question.about[0]}
    return (
        _("Is row %(row)d, “%(given)s”, row %(other)s once more?") % named,
        _("The two have the same trade, words and budget."),
        {"out": _("Yes, leave row %(row)d out") % named, "in": _("No, bring both in")},
    )


def _percent(question: Question, speaker: _Speaker) -> Words:
    minor, total = question.about
    named = {
        "share": question.given,
        "amount": speaker.money(minor),
        "total": speaker.money(total),
        "row": question.row,
    }
    return (
        _("What is the %(share)s of row %(row)d?") % named,
        _("A percentage is no budget before somebody says of what."),
        {
            "out": _("Leave the row out"),
            minor: _("A line of %(amount)s: %(share)s of the %(total)s of the other rows") % named,
            TYPED: _("A line of another amount"),
        },
    )


def _credit(question: Question, _speaker: _Speaker) -> Words:
    text, budget = question.about
    named = {"row": question.row, "text": shown(text), "given": shown(question.given)}
    keep = _("Bring the line in with its budget") if budget else _("Bring the line in with a budget of nothing")
    return (
        _("What becomes of the credit of row %(row)d, “%(text)s”: %(given)s?") % named,
        _(
            "A budget and a price are zero or more. A credit is entered as a credit note when it comes; until then it lowers no figure."
        ),
        {
            "keep": _("%s, and keep the credit as text beside it") % keep,
            "out": _("Leave the row out"),
        },
    )


def _currency(question: Question, _speaker: _Speaker) -> Words:
    named_code, text, signed = question.about
    named = {"given": shown(question.given), "code": named_code, "text": shown(text)}
    why = (
        _("The line is called “%(text)s”, and another cell of it bears its currency.")
        if signed
        else _("The line is called “%(text)s”.")
    )
    labels = {code: _("in %s") % code for code in question.options}
    return _("Which currency is %(given)s in?") % named, why % named, labels


def _cell(question: Question, speaker: _Speaker) -> Words:
    kind, currency = question.about
    labels = {minor: speaker.money(minor, currency) for minor in question.options if minor != "none"}
    labels |= {"none": _("No amount; keep it as text"), TYPED: _("Another amount")}
    return _("What does “%(given)s” mean?") % {"given": shown(question.given)}, _doubts()[kind], labels


def _doubts() -> Mapping[str, str]:
    return {
        "two ways": _("The mark can part thousands or decimals."),
        "other mark": _("It parts its decimals by another mark than the rest of the sheet."),
        "grouping": _("Its marks do not stand where thousands part."),
        "several figures": _("The cell holds more than one figure."),
        "sign": _("It can be read above or below zero."),
        "rate": _("It reads like a price for one unit, not for the whole."),
        "millions or metres": _("The m can mean millions."),
        "which currency": _("The sign is that of several currencies."),
        "decimals or too large": _("It has more decimals than its currency, or more digits than any build needs."),
        "too large": _("It is larger than any build needs."),
        "percent": _("A percentage is no amount."),
        "date": _("It reads like a date."),
        "sheet error": _("The sheet could not work it out."),
    }


def _bare(question: Question, _speaker: _Speaker) -> Words:
    named = {"row": question.row, "given": shown(question.given)}
    return (
        _("Is row %(row)d, “%(given)s”, a line?") % named,
        _("It has no amount."),
        {"zero": _("Yes, with a budget of nothing for now"), "out": _("No, leave it out")},
    )


def _unbudgeted(question: Question, _speaker: _Speaker) -> Words:
    named = {"row": question.row, "text": shown(question.about[0])}
    why = _("Its budget says “%s”.") % shown(question.given) if question.given else _("It has prices, and no budget.")
    labels = {"zero": _("Nothing"), TYPED: _("This amount"), "out": _("Leave the row out")}
    return _("What is the budget of row %(row)d, “%(text)s”?") % named, why, labels


def _nameless(question: Question, _speaker: _Speaker) -> Words:
    return (
        _("What is row %(row)d: %(text)s?") % {"row": question.row, "text": shown(question.about[0], 120)},
        _("It has amounts and no name; most often that is a sum."),
        {"out": _("Leave it out"), TYPED: _("A line called")},
    )


def _code(question: Question, _speaker: _Speaker) -> Words:
    return (
        _("Row %(row)d has the code %(given)s, which cannot be used.")
        % {"row": question.row, "given": shown(question.given)},
        _("It is taken, stands twice in the sheet, or is longer than 20 letters."),
        {"new": _("Give the line a new code"), "out": _("Leave the row out")},
    )


def _zero(question: Question, _speaker: _Speaker) -> Words:
    return (
        _("What does the 0 in column %s mean?") % column_name(question.column),
        _("It stands in row %d, and perhaps in further ones.") % question.row,
        {"none": _("No quote"), "priced": _("A price of nothing")},
    )


def _tax(question: Question, _speaker: _Speaker) -> Words:
    labels = {"stands": _("Count it as it stands")}
    labels |= {"inside": _("Take %s%% of tax out of it") % question.about[0]} if "inside" in question.options else {}
    why = _("The cell says that tax is inside; the other amounts are taken as they stand.")
    if "inside" not in question.options:
        first = _("To take it out, write the rate of tax under Settings first.")
        why = f"{why} {first}"
    return _("How does “%s” count?") % shown(question.given), why, labels


WORDS: Mapping[str, Callable[[Question, _Speaker], Words]] = {
    "mark": _mark, "vendor": _vendor, "date": _date, "rate": _rate, "trade": _trade, "twin": _twin, "percent": _percent,
    "credit": _credit, "currency": _currency, "cell": _cell, "bare": _bare, "unbudgeted": _unbudgeted, "nameless": _nameless,
    "code": _code, "zero": _zero, "tax": _tax,
}  # fmt: skip
