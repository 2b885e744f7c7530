"""Column types that keep a figure exact on every database.

SQLite stores decimals as binary floats, so a rate, a chance or a quantity is kept as the text it was given
in and comes back as a `Decimal`. Money needs no field of its own: it is a whole number of minor units.
"""

from decimal import Decimal, InvalidOperation
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models
from django.utils.translation import gettext_lazy as _


class ExactField(models.CharField):
    """A decimal number stored as text; never summed or ordered by the database."""

    # What the type checker is to think of the attribute on a row.
    _pyi_private_set_type: Decimal | str | int  # type: ignore[assignment]
    _pyi_private_get_type: Decimal  # type: ignore[assignment]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("max_length", 32)
        super().__init__(*args, **kwargs)

    def from_db_value(self, value: str | None, expression: Any, connection: Any) -> Decimal | None:
        return None if value is None or value == "" else Decimal(value)

    def to_python(self, value: Any) -> Decimal | None:
        if value is None or value == "":
            return None
        return _exact(value)

    def get_prep_value(self, value: Any) -> str | None:
        number = self.to_python(value)
        return None if number is None else as_plain_text(number)

    def value_to_string(self, obj: models.Model) -> str:
        number = self.value_from_object(obj)
        return "" if number is None else as_plain_text(_exact(number))

    def formfield(self, **kwargs: Any) -> Any:
        from django import forms

        return forms.DecimalField(required=not self.blank, label=kwargs.get("label"))


def _exact(value: Any) -> Decimal:
    try:
        number = value if isinstance(value, Decimal) else Decimal(str(value))
    except InvalidOperation as error:
        raise ValidationError(_("a number is required")) from error
    if not number.is_finite():
        raise ValidationError(_("a finite number is required"))
    return number


def as_plain_text(number: Decimal) -> str:
    """Write a decimal without exponent and without spare zeros.

    >>> as_plain_text(Decimal("0.8600")), as_plain_text(Decimal("1E+2"))
    ('0.86', '100')
    """
    text = format(number, "f")
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text
