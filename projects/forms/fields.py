"""The fields themselves: each reads one kind of figure by the marks of a place, and says what to mend."""

import re
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from projects import display
from projects.bounds import EARLIEST, LATEST
from projects.fields import as_plain_text
from units import amounts, money

_PLAIN = re.compile(r"[+-]?[0-9]{1,15}(?:\.[0-9]{1,18})?")


class _Placed:
    """A field that a form ties to a project before it reads anything."""

    currency = "GBP"
    locale = "en-GB"

    def tie(self, *, currency: str, locale: str) -> None:
        self.currency, self.locale = currency, locale

    @property
    def decimal_mark(self) -> str:
        return display.style_of(self.currency, self.locale).decimal


class MoneyField(_Placed, forms.CharField):
    """An amount; cleans to an int of minor units, or None when it may be empty and is.

    Args:
        negative: let an amount below zero through.
        currency_from: the name of the form's field that says in which currency the amount is.
    """

    def __init__(self, *, negative: bool = False, currency_from: str = "", **kwargs: Any) -> None:
        self.negative, self.currency_from = negative, currency_from
        super().__init__(max_length=kwargs.pop("max_length", amounts.LONGEST_TEXT), **kwargs)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        # A phone's decimal keyboard often has no minus.
        mode = {} if self.negative else {"inputmode": "decimal"}
        return {**super().widget_attrs(widget), "autocomplete": "off", "class": "amount", **mode}

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, int):
            return amounts.for_entry(value, currency=self.currency, decimal_mark=self.decimal_mark)
        return value

    def to_python(self, value: Any) -> int | None:  # type: ignore[override]
        text = super().to_python(value)
        if not text:
            return None
        try:
            minor = amounts.parse_amount(text, currency=self.currency, decimal_mark=self.decimal_mark)
        except amounts.NotAnAmount as fault:
            raise ValidationError(self._mend(fault.kind)) from None
        if minor < 0 and not self.negative:
            raise ValidationError(_("An amount below zero does not belong here; leave out the minus."))
        return minor

    def validate(self, value: Any) -> None:
        if value is None and self.required:
            raise ValidationError(_("Give an amount."))

    def run_validators(self, value: Any) -> None:
        """The length was held to before reading; an int has none."""

    def clean(self, value: Any) -> int | None:
        if isinstance(value, str) and len(value) > amounts.LONGEST_TEXT:
            raise ValidationError(self._mend("not a number"))
        return super().clean(value)

    def _mend(self, kind: amounts.Kind) -> str:
        example = amounts.for_entry(_sample(self.currency), currency=self.currency, decimal_mark=self.decimal_mark)
        said = {"currency": self.currency, "example": example, "digits": money.digits(self.currency)}
        return _mend_of(kind) % said


def _sample(currency: str) -> int:
    """12,400 and a half, or 12,400 where there are no cents."""
    digits = money.digits(currency)
    return 12400 * 10**digits + (5 * 10 ** (digits - 1) if digits else 0)


def _mend_of(kind: amounts.Kind) -> str:
    return {
        "empty": _("Give an amount."),
        "not a number": _("This is not an amount; write it like %(example)s."),
        "shortened": _("Write the amount out in full, like %(example)s."),
        "other currency": _("This names another currency; the amount here is in %(currency)s."),
        "grouping": _("The marks between the digits can be read in more than one way; write it like %(example)s."),
        "other mark": _("The marks are those of another country and can be misread; write it like %(example)s."),
        "decimals": _(
            "%(currency)s has %(digits)s decimals, and this has more or may mean thousands; write it like %(example)s."
        ),
        "too large": _("This amount is larger than any build; check the number of digits."),
    }[kind]


class NumberField(_Placed, forms.CharField):
    """A plain number, exact; cleans to a Decimal, or None when it may be empty and is.

    Args:
        places: the most digits after the decimal mark.
        least, most: the range, both ends belonging to it.
        above: the number must be more than this.
    """

    def __init__(
        self,
        *,
        places: int = 6,
        least: Decimal | int | None = None,
        most: Decimal | int | None = None,
        above: Decimal | int | None = None,
        **kwargs: Any,
    ) -> None:
        self.places, self.least, self.most, self.above = places, least, most, above
        super().__init__(**kwargs)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        signed = self.above is None and (self.least is None or self.least < 0)
        return {**super().widget_attrs(widget), "autocomplete": "off", **({} if signed else {"inputmode": "decimal"})}

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, Decimal | int):
            return as_plain_text(Decimal(value)).replace(".", self.decimal_mark)
        return value

    def to_python(self, value: Any) -> Decimal | None:  # type: ignore[override]
        text = (super().to_python(value) or "").strip()
        if not text:
            return None
        number = self._read(text)
        self._within(number)
        return number

    def _read(self, text: str) -> Decimal:
        plain = self._ungrouped(text).replace("\u2212", "-")
        if not _PLAIN.fullmatch(plain):
            raise ValidationError(_("This is not a number; write it like %(example)s.") % {"example": self._example()})
        try:
            number = Decimal(plain)
        except InvalidOperation:
            raise ValidationError(_("This is not a number.")) from None
        if -int(number.as_tuple().exponent) > self.places:
            raise ValidationError(_("At most %(places)s decimals are kept here.") % {"places": self.places})
        return number

    def _example(self) -> str:
        return "12.5".replace(".", self.decimal_mark)

    def _ungrouped(self, text: str) -> str:
        """Take out thousands that stand where thousands part; leave anything else to be refused."""
        mark = self.decimal_mark
        whole, parted, part = text.partition(mark)
        other = "," if mark == "." else "."
        if re.fullmatch(rf"[+\u2212-]?[1-9][0-9]{{0,2}}(?:[{other} \u00a0\u202f'][0-9]{{3}})+", whole):
            whole = re.sub(rf"[{other} \u00a0\u202f']", "", whole)
        return whole + ("." + part if parted else "") if other not in whole else "?"

    def _within(self, number: Decimal) -> None:
        said = {"least": self.least, "most": self.most, "above": self.above}
        if self.above is not None and number <= self.above:
            raise ValidationError(_("This must be more than %(above)s.") % said)
        if self.least is not None and number < self.least:
            raise ValidationError(_("This must be at least %(least)s.") % said)
        if self.most is not None and number > self.most:
            raise ValidationError(_("This must be at most %(most)s.") % said)

    def validate(self, value: Any) -> None:
        if value is None and self.required:
            raise ValidationError(_("Give a number."))

    def run_validators(self, value: Any) -> None:
        """The range was held to while reading."""


class PercentField(NumberField):
    """A percentage; cleans to the percent as a Decimal: "8.25 %" is Decimal("8.25")."""

    def __init__(self, *, least: Decimal | int = 0, most: Decimal | int = 100, places: int = 4, **kwargs: Any) -> None:
        super().__init__(places=places, least=least, most=most, **kwargs)

    def to_python(self, value: Any) -> Decimal | None:  # type: ignore[override]
        text = str(value or "").strip()
        return super().to_python(text[:-1] if text.endswith("%") else text)


class ChanceField(PercentField):
    """A chance entered as a percentage; cleans to a fraction from 0 to 1: "35 %" is Decimal("0.35")."""

    def prepare_value(self, value: Any) -> Any:
        return super().prepare_value(value * 100 if isinstance(value, Decimal | int) else value)

    def clean(self, value: Any) -> Decimal | None:
        percent = super().clean(value)
        return None if percent is None else percent.scaleb(-2)

    def has_changed(self, initial: Any, data: Any) -> bool:
        return super().has_changed(initial * 100 if isinstance(initial, Decimal | int) else initial, data)


class DateField(_Placed, forms.DateField):
    """A date: the browser's own entry, or typed the way the place writes it."""

    default_error_messages = {"required": gettext_lazy("Give a date.")}

    def __init__(self, *, earliest: date = EARLIEST, latest: date = LATEST, **kwargs: Any) -> None:
        self.earliest, self.latest = earliest, latest
        # The browser's date entry understands the ISO form only.
        widget = forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
        super().__init__(**{"widget": widget} | kwargs)

    def to_python(self, value: Any) -> date | None:
        if value in self.empty_values or isinstance(value, date):
            return super().to_python(value)
        found = _read_date(str(value).strip(), self.locale)
        if found is None:
            raise ValidationError(
                _("This is not a date that can be read in one way only; write it like %(example)s.")
                % {"example": "2027-05-28"}
            )
        if not self.earliest <= found <= self.latest:
            raise ValidationError(
                _("This date is out of range; give one from %(first)s to %(last)s.")
                % {"first": self.earliest.isoformat(), "last": self.latest.isoformat()}
            )
        return found


def _read_date(text: str, locale: str) -> date | None:
    """Read the ISO form, the place's own order of day and month with a year of four digits, or a month in letters."""
    numbers = "%m/%d/%Y" if locale in {"en-US", "en-us"} else "%d/%m/%Y"
    dotted = "%d.%m.%Y"
    for form in ("%Y-%m-%d", numbers, dotted, "%d %B %Y", "%d %b %Y", "%B %d, %Y", "%b %d, %Y"):
        try:
            return datetime.strptime(text, form).date()  # noqa: DTZ007 - a date has no zone
        except ValueError:
            continue
    return None
