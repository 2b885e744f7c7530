"""The row of figures that Money writes for every trade and for all of them: {% load budget_figures %}.

Written in Python and not as an included template, because it stands on the page once a trade and an include costs ten
times as much.
"""

from typing import Any

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from budget.selectors.overview import Figures
from projects import display
from projects.templatetags.parts import mark
from projects.templatetags.show import NOTHING, priced

register = template.Library()


@register.simple_tag
def figure_cells(figures: Figures, holder: Any) -> SafeString:
    """Budget, original quote, agreed and likely final, then both yardsticks; an empty column bears a dash."""
    money = priced(holder)
    over = _signed(figures.over_budget, money)
    sense = display.sense(figures.over_budget)
    cells = [
        _plain(figures.budget, money),
        _plain(figures.original if figures.with_original else None, money),
        _plain(figures.agreed if figures.let else None, money),
        format_html(
            '<td class="money">{}<small class="phone-only {}">{}</small></td>',
            display.money(figures.likely, money), sense, over,
        ),
        format_html('<td class="money lesser {}">{}</td>', sense, over),
        _against(figures, money),
    ]  # fmt: skip
    return mark_safe("".join(cells))  # noqa: S308  # every part was escaped when it was formatted


def _plain(minor: int | None, money: Any) -> SafeString:
    text = NOTHING if minor is None else display.money(minor, money)
    return format_html('<td class="money lesser">{}</td>', text)


def _signed(minor: int, money: Any) -> SafeString:
    return format_html("{}{}", mark(minor), display.money(minor, money, sign=True))


def _against(figures: Figures, money: Any) -> SafeString:
    if not figures.with_original:
        return format_html('<td class="money lesser">{}</td>', NOTHING)
    minor = figures.against_original
    return format_html('<td class="money lesser {}">{}</td>', display.sense(minor), _signed(minor, money))
