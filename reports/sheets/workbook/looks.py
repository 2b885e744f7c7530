"""One quiet look for every sheet: ink on white, a blue line under the headings, brick for over and verdigris for saved.

Amounts show their currency's sign and digits; a difference bears a plus or a true minus, so that colour never says it
alone.
"""

from functools import cache
from typing import Any

from projects import display
from projects.models import Project

INK, SOFT, CHALK, OVER, SAVED, RULE = "#1F2320", "#575C55", "#1F5EA8", "#9C3720", "#17695E", "#D8D5CA"
_MINUS = '"\u2212"'
_FACE = {"font_name": "Calibri", "font_size": 10, "font_color": INK, "valign": "vcenter"}

_HEAD: dict[str, Any] = {"bold": True, "text_wrap": True, "valign": "bottom", "bottom": 2, "bottom_color": CHALK}
#: What a kind of cell looks like beyond its face.
_KINDS: dict[str, dict[str, Any]] = {
    "title": {"bold": True, "font_size": 16},
    "soft": {"font_color": SOFT},
    "section": {"bold": True, "font_size": 12},
    "head left": _HEAD,
    "head right": _HEAD | {"align": "right"},
    "head after": _HEAD | {"indent": 1},
    "text": {},
    "after": {"indent": 1},
    "word": {"align": "right"},
    "key": {"num_format": "0", "align": "left", "font_color": SOFT},
    "number": {"num_format": "0"},
    "rate": {"num_format": "0.0000##"},
    "share": {"num_format": "0.0##%"},
    "date": {"num_format": "d mmm yyyy", "align": "left"},
    "total": {"bold": True, "top": 1, "top_color": INK},
}  # fmt: skip


def amount_format(currency: str, locale: str, *, signed: bool = False) -> str:
    """The number format of a currency, with its sign where the locale puts it and as many digits as it has.

    Source: number format codes of ISO/IEC 29500-1, 18.8.31; marks from Unicode CLDR.

    >>> amount_format("GBP", "en-GB"), amount_format("JPY", "en-GB", signed=True)
    ('[$£]#,##0.00;"−"[$£]#,##0.00', '"+"[$JP¥]#,##0;"−"[$JP¥]#,##0;[$JP¥]0')
    """
    style = display.style_of(currency, locale)
    part = "." + "0" * style.digits if style.digits else ""
    before, after = _sign(style.prefix), _sign(style.suffix)
    above = f"{before}#,##0{part}{after}"
    if not signed:
        return f"{above};{_MINUS}{above}"
    return f'"+"{above};{_MINUS}{above};{before}0{part}{after}'


def _sign(text: str) -> str:
    kept = text.replace("[", "").replace("]", "")
    return f"[${kept}]" if kept else ""


class Looks:
    """The styles of one workbook, made when first asked for."""

    def __init__(self, book: Any, project: Project) -> None:
        self._book, self._project = book, project
        self.style = cache(self._style)

    def _style(self, kind: str, currency: str = "", total: bool = False) -> int:
        """The number of a style. Amounts are of kinds "amount" and "signed"; `currency` is the project's unless given."""
        look = {**_FACE, **(_KINDS["total"] if total else {}), **self._of_kind(kind, currency)}
        # The library numbers a style when a cell of its own first bears it; ours are written past it.
        return self._book.add_format(look)._get_xf_index()

    def _of_kind(self, kind: str, currency: str) -> dict[str, Any]:
        if kind not in ("amount", "signed"):
            return _KINDS[kind]
        wanted = currency or self._project.currency
        return {"num_format": amount_format(wanted, self._project.locale, signed=kind == "signed")}

    def mark(self, colour: str) -> Any:
        """A format for cells that stand out."""
        return self._book.add_format({"font_color": colour})
