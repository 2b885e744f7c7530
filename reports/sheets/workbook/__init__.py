"""The whole of a project's money as one workbook with live formulas.

Any spreadsheet program works the figures out again, to the cent, from the rows that they rest on: what a line will
have cost is its budget plus its movements, what is open of an invoice is what falls to be paid less what was. A sheet
of checks says whether every sum agrees with what the program itself shows (ADR 0310).
"""
