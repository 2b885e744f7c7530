"""The sentences for what is found in a sheet: where it is, what it is, and what mends it."""

from collections.abc import Mapping
from dataclasses import dataclass

from django.utils.translation import gettext as _

from budget.calc.sheets.grid import Trouble, column_name
from units.reading import shown


@dataclass(frozen=True, slots=True)
class Said:
    """A trouble in words."""

    place: str
    what: str
    mend: str
    stops: bool


def column_labels() -> dict[str, str]:
    """What the wanted columns are called."""
    return {
        "trade": _("Trade"), "trade_name": _("Name of the trade"), "code": _("Code"), "description": _("Description"),
        "kind": _("Kind"), "unit": _("Unit"), "quantity": _("Quantity"), "budget": _("First budget"),
        "vendor": _("Vendor"), "line": _("Line code"), "amount": _("Amount"), "currency": _("Currency"),
        "quoted_on": _("Date"), "valid_until": _("Valid until"), "lead_days": _("Lead time"), "basis": _("Basis"),
        "reference": _("Reference"), "note": _("Note"), "number": _("Invoice number"), "invoiced_on": _("Invoice date"),
        "tax": _("Tax"), "retention": _("Retention held"), "change": _("Change"), "due_on": _("Due on"),
    }  # fmt: skip


def explain(trouble: Trouble) -> Said:
    """Put a trouble into words."""
    what, mend = _words(trouble.kind)
    named = column_labels()[trouble.about] if trouble.kind == "no column" else shown(trouble.about, 160)
    given = {"given": shown(trouble.given, 60), "about": named}
    return Said(_place(trouble), what % given, mend % given, trouble.stops)


def _place(trouble: Trouble) -> str:
    if trouble.row and trouble.column:
        return f"{column_name(trouble.column)}{trouble.row}"
    if trouble.row:
        return _("row %d") % trouble.row
    return _("column %s") % column_name(trouble.column) if trouble.column else ""


def _words(kind: str) -> tuple[str, str]:
    for table in (_about_the_sheet(), _about_cells(), _about_lines(), _about_quotes(), _about_invoices()):
        if kind in table:
            return table[kind]
    raise KeyError(kind)


Words = Mapping[str, tuple[str, str]]


def _about_the_sheet() -> Words:
    # Long because it is a table.
    return {
        "no heading": (
            _("No row of headings was found."),
            _("Say below in which row the headings stand, or give the columns their usual names."),
        ),
        "no column": (_("No column for “%(about)s” was found."), _("Choose it below.")),
        "no rows": (
            _("Nothing stands below the headings."),
            _("Check that this is the right sheet, and the row of the headings below."),
        ),
        "too many rows": (_("The sheet has more than %(about)s rows."), _("Split it into several files.")),
        "rows above the heading": (
            _("%(about)s rows above the headings are left out."),
            _("Nothing to do, unless one of them is a line."),
        ),
        "sheet": (
            _("The sheet “%(about)s” of the workbook was read."),
            _("To read another one, name it when you choose the file."),
        ),
        "encoding": (
            _("The letters were read as %(about)s."),
            _("If accents look wrong below, save the file as CSV in UTF-8."),
        ),
        "delimiter": (_("The cells are parted by a %(about)s."), _("Nothing to do if the columns below look right.")),
        "formulas": (
            _("%(about)s cells are worked out by formulas; their values of when the file was saved are used."),
            _("Nothing to do."),
        ),
        "formulas without a value": (
            _("%(about)s formulas were never worked out; their cells count as empty."),
            _("Open the file in your spreadsheet program, save it, and choose it again."),
        ),
        "merged": (
            _("%(about)s is one merged cell; its value counts for its first cell only."),
            _("Part the cells where each row needs the value."),
        ),
        "hidden row": (
            _("The row is hidden in the sheet; it is read like the others."),
            _("Leave it out below if it should not come in."),
        ),
        "hidden column": (
            _("Column %(about)s is hidden in the sheet; it is read like the others."),
            _("Choose another column below if it is the wrong one."),
        ),
        "total differs": (
            _("The stated total %(given)s is not the sum of the rows above it, which is %(about)s."),
            _("Look for a row that is missing, there twice, or mistyped; the total itself is left out."),
        ),
    }


def _about_cells() -> Words:
    # Long because it is a table.
    return {
        "too long": (_("“%(given)s” is longer than %(about)s letters."), _("Shorten it.")),
        "not a number": (_("“%(given)s” is no number."), _("Write the amount in digits, or leave the row out.")),
        "shortened": (_("“%(given)s” is shortened."), _("Write the amount in full.")),
        "percent": (_("“%(given)s” is a percentage, not an amount."), _("Write the amount it comes to.")),
        "two ways": (
            _("“%(given)s” can be read in two ways."),
            _("Choose below what parts the decimals, or write it without a mark for thousands."),
        ),
        "grouping": (
            _("The marks in “%(given)s” do not stand where thousands part."),
            _("Check the digits and write them without marks."),
        ),
        "other mark": (
            _("“%(given)s” parts its decimals by another mark than the rest."),
            _("Choose below what parts the decimals, or write it like the rest."),
        ),
        "decimals": (_("“%(given)s” has more decimals than its currency."), _("Round it in the sheet.")),
        "too large": (_("“%(given)s” is larger than any build needs."), _("Check the number of digits.")),
        "negative": (
            _("“%(given)s” is below zero."),
            _("An amount here is zero or more; leave credits out and enter them where they belong."),
        ),
        "other currency": (
            _("“%(given)s” is in another currency than the project's."),
            _("Convert it, or bring it in as a quote."),
        ),
        "no date": (_("“%(given)s” is no date."), _("Write it as year-month-day, such as 2027-01-29.")),
        "day or month": (_("“%(given)s” may mean two dates."), _("Choose below in which order day and month stand.")),
        "out of range": (_("“%(given)s” is read as %(about)s, which is far from any build."), _("Check the year.")),
        "unknown word": (_("“%(given)s” is not known here."), _("Known are: %(about)s.")),
        "no duration": (_("“%(given)s” is no duration."), _("Write days or weeks, such as “84 days” or “12 weeks”.")),
    }


def _about_lines() -> Words:
    # Long because it is a table.
    return {
        "no trade": (
            _("The row names no trade."),
            _("Name one, choose below that it is the one above, or choose a trade for such rows."),
        ),
        "unknown trade": (
            _("There is no trade “%(given)s”."),
            _("Choose below to add the trades that are missing, or write it as the project does."),
        ),
        "unknown trade, one is near": (
            _("There is no trade “%(given)s”; %(about)s is near."),
            _("Write it as the project does, or choose below to add the trades that are missing."),
        ),
        "another trade": (
            _("The code “%(given)s” is that of %(about)s here; the sheet calls it otherwise."),
            _("Write the project's code or name, or choose below to read one of the two columns only."),
        ),
        "no description": (_("The row has no description."), _("Write one, or leave the row out.")),
        "no amount": (_("The row has no amount."), _("Write one, 0 where it is to be nothing, or leave the row out.")),
        "code taken": (
            _("The project has a line %(given)s already."),
            _("Give it another code, or leave the row out."),
        ),
        "code twice": (
            _("Code %(given)s stands in row %(about)s already."),
            _("Give it another code, or leave the row out."),
        ),
        "cut short": (
            _("The description is longer than %(about)s letters; so many come in."),
            _("The whole text stays beside the line."),
        ),
        "quote on a contingency": (
            _("“%(given)s” stands beside a contingency, which has no quotes."),
            _("It stays beside the line as text; name the line otherwise if it is work."),
        ),
        "like another": (
            _("“%(given)s” looks like row %(about)s: the same trade, description and amount."),
            _("Leave one of them out if they are the same."),
        ),
        "heading in another currency": (
            _("The heading names %(about)s, which is not the project's currency."),
            _("Convert the amounts, or choose another column."),
        ),
        "format in another currency": (
            _("The cell shows %(given)s as %(about)s."),
            _("Convert it to the project's currency."),
        ),
    }


def _about_quotes() -> Words:
    # Long because it is a table.
    return {
        "no vendor": (_("The row names no vendor."), _("Name the vendor, or leave the row out.")),
        "no line": (_("The row names no line."), _("Write the line's code, or leave the row out.")),
        "no date given": (_("The row has no date."), _("Write the date of the quote.")),
        "unknown line": (
            _("There is no line %(given)s."),
            _("Write the code of a line as it stands in Money, or add the line first."),
        ),
        "unknown currency": (_("“%(given)s” is no currency code."), _("Use one such as EUR.")),
        "two currencies": (
            _("“%(given)s” is in %(about)s, the row in another currency."),
            _("Add a column with the currency of each row."),
        ),
        "no rate": (
            _("The project has no exchange rate for %(about)s."),
            _("Enter one under Exchange rates, then come back here."),
        ),
        "in the future": (_("The quote is dated after %(about)s."), _("Check the date.")),
        "runs out before": (_("The quote runs out before its own date, %(about)s."), _("Check the two dates.")),
        "logged already": (
            _("This quote is logged already: same vendor, reference, date and line."),
            _("Leave the row out."),
        ),
        "line twice": (
            _("Row %(about)s has a price of the same quote on the same line."),
            _("Give the quotes their own references, or leave one out."),
        ),
        "differs in one quote": (
            _("“%(given)s” differs from row %(about)s of the same quote."),
            _("Rows of one vendor, reference and date are one quote: make them agree."),
        ),
    }


def _about_invoices() -> Words:
    # Long because it is a table.
    return {
        "no number": (_("The row has no invoice number."), _("Write the number that stands on the invoice.")),
        "no invoice date": (_("The row has no date."), _("Write the date of the invoice.")),
        "entered already": (
            _("The project has %(given)s of this vendor already."),
            _("Leave the row out; a number of a vendor stands once."),
        ),
        "billed twice": (
            _("Row %(about)s bills the same line on the same invoice."),
            _("Put the two amounts together, or name the change that one of them is for."),
        ),
        "differs in one invoice": (
            _("“%(given)s” differs from row %(about)s of the same invoice."),
            _("Rows of one vendor and number are one invoice: make them agree."),
        ),
        "dated ahead": (_("The invoice is dated after %(about)s."), _("Check the date.")),
        "due before": (_("The invoice falls due before its own date, %(about)s."), _("Check the two dates.")),
        "unknown change": (
            _("There is no change %(given)s."),
            _("Write the code of a change that is proposed or agreed, or leave the cell empty."),
        ),
        "change of another line": (
            _("Change %(given)s belongs to line %(about)s."),
            _("Name the line of the change, or another change."),
        ),
    }
