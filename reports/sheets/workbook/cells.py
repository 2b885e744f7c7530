"""Cells as they stand in the parts of a workbook: exact decimals, texts that nothing runs, formulas with their value.

A number is written as the decimal that it is, so no amount passes through a binary fraction on our side. A text is a
text whatever it begins with. A formula bears the value that this program worked out, for readers that do not calculate.
Source: ISO/IEC 29500-1, 18.3.1.4 (cell) and 22.9.2.19 (characters that XML cannot hold).
"""

import re
from collections.abc import Callable
from datetime import date

#: The most letters that a cell holds.
LONGEST = 32_767
#: Days are counted from here, so that day 60 and later are those of every spreadsheet.
_DAY_ZERO = date(1899, 12, 30).toordinal()
_ODD = re.compile(r"[&<>\r]|_x[0-9A-Fa-f]{4}_|[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
_MARKS = {"&": "&amp;", "<": "&lt;", ">": "&gt;"}

#: Writes one cell of a column: the number of the row, the value, the style, and what a formula names.
Cell = Callable[..., str]


def letters(column: int) -> str:
    """The letters of a column, counted from 0.

    >>> letters(0), letters(25), letters(26)
    ('A', 'Z', 'AA')
    """
    text = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        text = chr(65 + rest) + text
    return text


def escaped(text: str) -> str:
    """Write a text so that it reads back as it was; half a character that no file can hold becomes a question mark.

    >>> escaped("Fish & chips <1>"), escaped("a\\x07b"), escaped("_x0041_")
    ('Fish &amp; chips &lt;1&gt;', 'a_x0007_b', '_x005F_x0041_')
    """
    return _ODD.sub(_mark, text[:LONGEST])


def _mark(found: re.Match[str]) -> str:
    odd = found[0]
    if len(odd) > 1:
        return f"_x005F{odd}"
    if "\ud800" <= odd <= "\udfff":
        return "?"
    return _MARKS.get(odd) or f"_x{ord(odd):04X}_"


def day_number(on: date) -> int:
    """A date as a spreadsheet counts it.

    >>> day_number(date(2027, 1, 29))
    46416
    """
    return on.toordinal() - _DAY_ZERO


def decimal(minor: int, digits: int) -> str:
    """An amount in minor units as a plain decimal.

    >>> decimal(1825000, 2), decimal(-5, 3), decimal(-5, 0)
    ('18250.00', '-0.005', '-5')
    """
    if not digits:
        return str(minor)
    size = str(abs(minor)).rjust(digits + 1, "0")
    return f"{'-' if minor < 0 else ''}{size[:-digits]}.{size[-digits:]}"


def number(at: str, style: int, text: str) -> str:
    return f'<c r="{at}" s="{style}"><v>{text}</v></c>'


def blank(at: str, style: int) -> str:
    """A cell without a value that shows its style all the same; a text at its left runs on over it."""
    return f'<c r="{at}" s="{style}"/>'


def words(at: str, style: int, text: str) -> str:
    if not text:
        return ""
    return f'<c r="{at}" s="{style}" t="inlineStr"><is><t xml:space="preserve">{escaped(text)}</t></is></c>'


def formula(at: str, style: int, said: str, value: str) -> str:
    """A formula, without its "=", that gives a number."""
    return f'<c r="{at}" s="{style}"><f>{escaped(said)}</f><v>{value}</v></c>'


def saying(at: str, style: int, said: str, value: str) -> str:
    """A formula that gives a text."""
    return f'<c r="{at}" s="{style}" t="str"><f>{escaped(said)}</f><v>{escaped(value)}</v></c>'


def quoted(text: str) -> str:
    """A text as it stands inside a formula.

    >>> quoted('12" pipe')
    '"12"" pipe"'
    """
    return '"' + text.replace('"', '""') + '"'
