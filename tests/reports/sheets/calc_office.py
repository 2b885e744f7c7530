"""A workbook worked out again by a spreadsheet program that knows nothing of us: LibreOffice Calc, without a window.

Before it is handed over, every value that we wrote into a formula is taken out, so that what comes back was worked out
there. The program gets a profile of its own and is told to work out everything when it opens a file.
"""

import io
import os
import re
import subprocess
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import office
import openpyxl

SETTINGS = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load"><prop oor:name="OOXMLRecalcMode" oor:op="fuse"><value>0</value></prop></item>
</oor:items>
"""
MOST_SECONDS = 240


@dataclass(frozen=True, slots=True)
class Compared:
    """A formula with the value that we wrote beside it and the one that was worked out elsewhere."""

    place: str
    formula: str
    ours: Any
    theirs: Any

    @property
    def agrees(self) -> bool:
        """To the cent and far below: both are the same decimal, or the same text; an empty text may come back as nothing."""
        if isinstance(self.ours, int | float) and isinstance(self.theirs, int | float):
            return abs(self.ours - self.theirs) < 1e-6
        return (self.ours or "") == (self.theirs or "") and type(self.ours or "") is type(self.theirs or "")


def without_values(data: bytes) -> bytes:
    """The same workbook, whose formulas have no value yet."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            content = old.read(name)
            if name.startswith("xl/worksheets/"):
                content = re.sub(rb"</f><v>[^<]*</v>", b"</f>", content)
            new.writestr(name, content)
    return out.getvalue()


def worked_out(data: bytes, folder: Path) -> bytes:
    """Let the program open a workbook, work it out and save it. Fails, in one sentence, where there is no such program."""
    program = office.find()
    assert program, f"this test needs a spreadsheet program: {office.HOW}"
    profile, source, result = folder / "profile", folder / "in" / "book.xlsx", folder / "out"
    for place in (profile / "user", source.parent, result):
        place.mkdir(parents=True, exist_ok=True)
    (profile / "user" / "registrymodifications.xcu").write_text(SETTINGS, "utf-8")
    source.write_bytes(without_values(data))
    command = [
        program, f"-env:UserInstallation={profile.as_uri()}", "--headless", "--norestore", "--nolockcheck",
        "--convert-to", "xlsx", "--outdir", str(result), str(source),
    ]  # fmt: skip
    done = subprocess.run(
        command, capture_output=True, text=True, timeout=MOST_SECONDS, env={**os.environ, "HOME": str(folder)}
    )
    assert (result / source.name).exists(), done.stdout + done.stderr
    return (result / source.name).read_bytes()


def compared(ours: bytes, theirs: bytes) -> Iterator[Compared]:
    """Every formula of a workbook with both values."""
    said, written = (openpyxl.load_workbook(io.BytesIO(ours), data_only=only) for only in (False, True))
    found = openpyxl.load_workbook(io.BytesIO(theirs), data_only=True)
    for sheet in said:
        for row in sheet.iter_rows():
            for cell in (cell for cell in row if cell.data_type == "f"):
                at = cell.coordinate
                yield Compared(
                    f"{sheet.title}!{at}", cell.value, written[sheet.title][at].value, found[sheet.title][at].value
                )


def differing(ours: bytes, folder: Path) -> tuple[int, list[Compared]]:
    """How many formulas there are, and those that come to something else."""
    every = list(compared(ours, worked_out(ours, folder)))
    return len(every), [one for one in every if not one.agrees]
