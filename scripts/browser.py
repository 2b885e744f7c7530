"""Find a Chromium for the journeys, or get one; say in one line what to do where that fails."""

import glob
import os
import shutil
import subprocess
import sys
from pathlib import Path

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
PLACES = (
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    r"C:\Program Files\Google\Chrome\Application\chrome.exe",
    r"C:\Program Files (x86)\Microsoft\Edge\Application\msedge.exe",
)
OWN_FOLDERS = ("~/.cache/ms-playwright", "~/Library/Caches/ms-playwright", "~/AppData/Local/ms-playwright")


def find() -> str | None:
    """The path of a browser: the one named by CHROMIUM, else an installed one, else Playwright's own."""
    named = os.environ.get("CHROMIUM")
    if named:
        return named if Path(named).exists() else None
    on_path = next(filter(None, map(shutil.which, NAMES)), None)
    return on_path or next((place for place in PLACES if Path(place).exists()), None) or _playwrights_own()


def _playwrights_own() -> str | None:
    for folder in OWN_FOLDERS:
        for name in ("chrome", "Chromium", "chrome.exe"):
            found = glob.glob(f"{Path(folder).expanduser()}/chromium-*/**/{name}", recursive=True)
            if found:
                return sorted(found)[-1]
    return None


def _install() -> None:
    if shutil.which("apt-get") and hasattr(os, "geteuid") and os.geteuid() == 0:
        subprocess.call(["apt-get", "install", "-y", "-q", "--no-install-recommends", "chromium"])
    else:
        subprocess.call([sys.executable, "-m", "playwright", "install", "chromium"])


def found_or_installed() -> str:
    path = find()
    if path is None and not os.environ.get("CHROMIUM"):
        _install()
        path = find()
    if path is None:
        sys.exit("The tests drive a real browser. Install Chromium, or name one: CHROMIUM=/path/to/it make test")
    return path
