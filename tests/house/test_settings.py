"""Safe by default: production starts only with its secrets, and then without a warning."""

import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PRODUCTION = {
    "BATTERBOARD_MODE": "production",
    "SECRET_KEY": "k" * 25 + "0123456789abcdefghijABCDEFGHIJ",
    "ALLOWED_HOSTS": "b.example",
}
SECRET = {
    "BATTERBOARD_MODE",
    "SECRET_KEY",
    "ALLOWED_HOSTS",
    "BATTERBOARD_DEBUG",
    "DJANGO_SETTINGS_MODULE",
    "DATABASE_URL",
    "DJANGO_ALLOW_ASYNC_UNSAFE",
}


def manage(var: Path, *command: str, **environment: str) -> subprocess.CompletedProcess[str]:
    clean = {name: value for name, value in os.environ.items() if name not in SECRET}
    env = {**clean, "BATTERBOARD_VAR": str(var), **environment}
    return subprocess.run([sys.executable, "manage.py", *command], cwd=ROOT, env=env, capture_output=True, text=True)


def setting(var: Path, name: str, **environment: str) -> str:
    code = f"from django.conf import settings; print(repr(settings.{name}))"
    return manage(var, "shell", "--no-imports", "-c", code, **environment).stdout.strip()


def test_production_passes_djangos_own_check(tmp_path: Path):
    done = manage(tmp_path, "check", "--deploy", "--fail-level", "WARNING", **PRODUCTION)
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("missing", ["SECRET_KEY", "ALLOWED_HOSTS"])
def test_production_refuses_to_start_without(missing: str, tmp_path: Path):
    done = manage(tmp_path, "check", **{**PRODUCTION, missing: ""})
    assert done.returncode != 0
    assert f"ImproperlyConfigured: {missing} must be set" in done.stderr.strip().splitlines()[-1]


def test_an_unknown_mode_is_refused(tmp_path: Path):
    done = manage(tmp_path, "check", BATTERBOARD_MODE="prod")
    assert "must be local or production" in done.stderr.strip().splitlines()[-1]


@pytest.mark.parametrize(
    ("environment", "debug"),
    [({}, "False"), ({"BATTERBOARD_DEBUG": "1"}, "True"), ({**PRODUCTION, "BATTERBOARD_DEBUG": "1"}, "False")],
)
def test_debug_is_on_only_when_asked_for_and_local(environment: dict[str, str], debug: str, tmp_path: Path):
    assert setting(tmp_path, "DEBUG", **environment) == debug


@pytest.mark.skipif(os.name != "posix", reason="file modes are a POSIX matter")
def test_the_local_secret_key_is_made_once_and_private(tmp_path: Path):
    first, second = setting(tmp_path, "SECRET_KEY"), setting(tmp_path, "SECRET_KEY")
    assert first == second and len(first) > 50
    assert stat.S_IMODE((tmp_path / "secret_key").stat().st_mode) == 0o600
    assert [path.name for path in tmp_path.iterdir()] == ["secret_key"]


def test_static_files_get_hashed_names_in_production(tmp_path: Path):
    done = manage(tmp_path, "collectstatic", "--noinput", "-v", "0", **PRODUCTION)
    assert done.returncode == 0, done.stderr
    assert list((tmp_path / "static").glob("django_htmx/htmx-2.min.*.js"))
