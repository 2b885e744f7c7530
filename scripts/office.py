"""Find a spreadsheet program for the test that works our workbook out again, or get one."""

import glob
import os
import shutil
import subprocess

NAMES = ("soffice", "libreoffice")
PLACES = (
    "/usr/lib/libreoffice/program/soffice",
    "/opt/libreoffice*/program/soffice",
    "/Applications/LibreOffice.app/Contents/MacOS/soffice",
    r"C:\Program Files\LibreOffice\program\soffice.exe",
)
HOW = "install LibreOffice Calc (Debian: sudo apt-get install libreoffice-calc-nogui), or name it: SOFFICE=/path/to/soffice"


def find() -> str | None:
    """The path of the program: the one named by SOFFICE, else an installed one."""
    named = os.environ.get("SOFFICE")
    if named:
        return named if os.path.exists(named) else None
    on_path = next(filter(None, map(shutil.which, NAMES)), None)
    return on_path or next((found for place in PLACES for found in glob.glob(place)), None)


def _install() -> None:
    if shutil.which("apt-get") and hasattr(os, "geteuid") and os.geteuid() == 0:
        package = "libreoffice-calc-nogui"
        subprocess.call(["apt-get", "install", "-y", "-q", "--no-install-recommends", package])


def found_or_installed() -> str | None:
    """The path of the program, or None where there is none to be had."""
    path = find()
    if path is None and not os.environ.get("SOFFICE"):
        _install()
        path = find()
    return path
