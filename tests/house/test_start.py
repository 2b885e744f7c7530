"""A web worker is small when it starts: libraries for figures and sheets wait until a page needs them."""

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
HEAVY = ("pandas", "plotly", "numpy", "scipy", "openpyxl", "xlsxwriter", "python_calamine", "typst", "PIL")
CODE = f"""
import sys
from config import wsgi
from django.urls import get_resolver
get_resolver().url_patterns
print([name for name in {HEAVY!r} if name in sys.modules])
"""


def test_no_heavy_library_is_imported_at_the_start(tmp_path: Path):
    env = {**os.environ, "BATTERBOARD_VAR": str(tmp_path), "DJANGO_SETTINGS_MODULE": "config.settings"}
    done = subprocess.run([sys.executable, "-c", CODE], cwd=ROOT, env=env, capture_output=True, text=True)
    assert done.stdout.strip() == "[]", done.stdout + done.stderr
