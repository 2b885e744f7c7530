"""Edit one cell of a workbook in LibreOffice Calc, again and again, and tell how long until its totals are right.

Run with the system's own Python, which knows the program's bridge; standard library and `uno` alone.

    python3 bench/edit_in_calc.py SOFFICE BOOK PLAN       # PLAN: JSON, see `measure_invoice`

Prints one JSON object: seconds to open, to work everything out, of each edit, and the totals before the first.
"""

import contextlib
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import uno
from com.sun.star.beans import PropertyValue
from com.sun.star.connection import NoConnectException
from com.sun.star.lang import DisposedException

MOST_SECONDS_TO_START = 90


def started(program, profile, pipe):
    command = [
        program, f"-env:UserInstallation={profile.as_uri()}", "--headless", "--norestore", "--nolockcheck", "--nodefault",
        f"--accept=pipe,name={pipe};urp;",
    ]  # fmt: skip
    return subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


def desktop(pipe):
    local = uno.getComponentContext()
    resolver = local.ServiceManager.createInstanceWithContext("com.sun.star.bridge.UnoUrlResolver", local)
    until = time.monotonic() + MOST_SECONDS_TO_START
    while True:
        try:
            there = resolver.resolve(f"uno:pipe,name={pipe};urp;StarOffice.ComponentContext")
            return there.ServiceManager.createInstanceWithContext("com.sun.star.frame.Desktop", there)
        except NoConnectException:
            if time.monotonic() > until:
                sys.exit("the spreadsheet program did not answer")
            time.sleep(0.2)


def seconds(deed):
    began = time.perf_counter()
    found = deed()
    return time.perf_counter() - began, found


def measured(book, plan):
    def totals():
        sheet = book.Sheets.getByIndex(0)
        return {name: sheet.getCellByPosition(column, row).Value for name, (row, column) in plan["totals"].items()}

    def edited(cell, value):
        cell.Value = value
        book.calculate()
        return totals()

    whole, _nothing = seconds(book.calculateAll)
    first = before = totals()
    taken, invoices = [], book.Sheets.getByName(plan["sheet"])
    for row in plan["rows"]:
        cell = invoices.getCellByPosition(plan["column"], row)
        spent, after = seconds(lambda cell=cell: edited(cell, cell.Value + plan["more"]))
        assert abs(after["invoiced"] - before["invoiced"] - plan["more"]) < 0.005, (before, after)
        taken.append(spent)
        before = after
    return {"whole": whole, "edits": taken, "totals": first}


def main():
    program, path, plan = sys.argv[1], Path(sys.argv[2]), json.loads(sys.argv[3])
    pipe = f"bench{os.getpid()}"
    with tempfile.TemporaryDirectory() as home:
        running = started(program, Path(home), pipe)
        try:
            hidden = PropertyValue(Name="Hidden", Value=True)
            calc = desktop(pipe)
            opening, book = seconds(lambda: calc.loadComponentFromURL(path.as_uri(), "_blank", 0, (hidden,)))
            print(json.dumps({"open": opening, **measured(book, plan)}), flush=True)
            book.close(True)
            with contextlib.suppress(DisposedException):
                calc.terminate()
            running.wait(timeout=30)
        finally:
            running.kill()


if __name__ == "__main__":
    main()
