"""The calc command as a fixture: what it writes on both outputs, and its exit code."""

import io
import json
import sys

import pytest
from django.core.management import execute_from_command_line


class Standard:
    """Standard input as a command sees it: text with bytes below."""

    def __init__(self, raw):
        self.buffer = io.BytesIO(raw)


def run(monkeypatch, *arguments, raw=b""):
    """What the command writes on both outputs, and its exit code."""
    out, err = io.StringIO(), io.StringIO()
    with monkeypatch.context() as patched:
        for name, stream in (("stdin", Standard(raw)), ("stdout", out), ("stderr", err)):
            patched.setattr(sys, name, stream)
        try:
            execute_from_command_line(["manage.py", "calc", *arguments])
            code = 0
        except SystemExit as stop:
            code = stop.code
    return out.getvalue(), err.getvalue(), code


@pytest.fixture
def calc(monkeypatch):
    return lambda *arguments, raw=b"": run(monkeypatch, *arguments, raw=raw)


@pytest.fixture
def answer(calc):
    def asked(name, document):
        out, err, code = calc(name, raw=json.dumps(document).encode())
        assert (err, code) == ("", 0)
        return json.loads(out)

    return asked


@pytest.fixture
def refusal(calc):
    def asked(name, document):
        raw = document if isinstance(document, bytes) else json.dumps(document).encode()
        out, err, code = calc(name, raw=raw)
        assert (out, code, err.count("\n")) == ("", 2, 1)
        return err.removesuffix("\n").removeprefix(f"batterboard: calc {name}: ")

    return asked
