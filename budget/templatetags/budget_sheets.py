"""What a sheet said about a line that it brought in, for the line's page."""

from typing import Any

from django import template

from budget.models import LineItem
from budget.selectors import imports

register = template.Library()


@register.inclusion_tag("budget/_line_sheet.html", takes_context=True)
def sheet_rows(context: dict[str, Any], line: LineItem) -> dict[str, Any]:
    """Write the cells of the sheet's row beside what was read. Queries: 1, none for a line that no sheet brought in."""
    rows = imports.sheet_rows(line) if line.import_batch_id else []
    return {"rows": rows, "door": context.get("door")}
