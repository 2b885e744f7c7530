"""A web worker when it has just started: how much memory it holds, and what its imports cost.

The reference for the time is an empty Django project with Django's own apps, in the same run. (Not on Windows, which
does not tell a program its peak memory this way.)
"""

import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

from bench.figures import Figure

ROOT = Path(__file__).resolve().parent.parent
WORKER = "from config.wsgi import application; from django.urls import get_resolver; get_resolver().url_patterns"
CONTRIB = ("auth", "contenttypes", "sessions", "messages", "staticfiles")
REFERENCE = (
    "import django; from django.conf import settings; "
    f"settings.configure(INSTALLED_APPS=['django.contrib.' + name for name in {CONTRIB}], USE_TZ=True, "
    "DATABASES={'default': {'ENGINE': 'django.db.backends.sqlite3'}}, "
    "TEMPLATES=[{'BACKEND': 'django.template.backends.django.DjangoTemplates'}]); django.setup(); "
    "from django.core.wsgi import get_wsgi_application"
)
TELL = "; import time, resource; print(time.perf_counter() - began, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)"


def start(code: str, var: str) -> tuple[float, float]:
    """Run code in a fresh Python. Returns: seconds of imports, memory [MB]."""
    program = "import os, time; began = time.perf_counter(); " + code + TELL
    env = {"BATTERBOARD_VAR": var, "DJANGO_SETTINGS_MODULE": "config.settings", "PATH": "/usr/bin:/bin"}
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, env=env, capture_output=True, text=True, check=True
    )
    seconds, kilobytes = done.stdout.split()
    return float(seconds), float(kilobytes) / (1024 * 1024 if sys.platform == "darwin" else 1024)


def measure() -> list[Figure]:
    with tempfile.TemporaryDirectory() as var:
        start(WORKER, var)
        pairs = [(start(WORKER, var), start(REFERENCE, var)) for _ in range(7)]
    worker = statistics.median(seconds for (seconds, _), _ in pairs)
    reference = statistics.median(seconds for _, (seconds, _) in pairs)
    return [
        Figure("memory of a fresh worker", max(memory for (_, memory), _ in pairs), "MB", 80),
        Figure("its imports, against Django's own", worker / reference, "times", 3),
        Figure("its imports, on this machine", worker * 1000, "ms"),
        Figure("Django's own, on this machine", reference * 1000, "ms"),
    ]
