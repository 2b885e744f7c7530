"""`manage.py calc NAME [FILE]`: any figure of any page, worked out from JSON without the web."""

import os
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any, NoReturn

from django.core.management.base import BaseCommand, CommandParser

from reports.calc_names import CALCULATIONS, answer, written
from units.reading import MOST_BYTES, Unreadable, nearest, shown

BAD_INPUT = 2


class Command(BaseCommand):
    help = "Work out a calculation: JSON in (file or standard input), JSON out, one object."
    requires_system_checks: list[str] = []

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> CommandParser:
        parser = super().create_parser(prog_name, subcommand, **kwargs)
        _say_on_one_line(parser)
        return parser

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("name", nargs="?", metavar="NAME", help="the calculation; without it the names are listed")
        parser.add_argument("file", nargs="?", metavar="FILE", help="the input; left out or - for standard input")
        parser.add_argument("--schema", action="store_true", help="print the JSON Schema of the input")

    def handle(self, *args: Any, **options: Any) -> None:
        name = options["name"]
        if name is None and not options["schema"]:
            self._put("".join(f"{known}\n" for known in CALCULATIONS))
            return
        if name not in CALCULATIONS:
            refuse("calc", _unknown(name))
        try:
            self._put(self._text(name, options))
        except Unreadable as fault:
            refuse(f"calc {name}", str(fault))

    def _text(self, name: str, options: dict[str, Any]) -> str:
        if options["schema"]:
            return written(CALCULATIONS[name].document.schema())
        return answer(name, _read(options["file"]))

    def _put(self, text: str) -> None:
        try:
            self.stdout.write(text, ending="")
            self.stdout.flush()
        except (
            BrokenPipeError
        ):  # whoever reads has had enough, as in `calc | head -1`; nothing is left to be flushed to it
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _say_on_one_line(parser: ArgumentParser) -> None:
    """A slip in the arguments is told like every other fault, instead of by a page of usage."""

    def error(message: str) -> NoReturn:
        refuse("calc", f"{shown(message, 200)}; usage: calc NAME [FILE] [--schema]")

    parser.error = error  # type: ignore[method-assign]


def _unknown(name: str | None) -> str:
    if name is None:
        return f"the name of a calculation is required: {', '.join(CALCULATIONS)}"
    return f'no calculation is called "{shown(name)}"{nearest(name, list(CALCULATIONS))}'


def _read(file: str | None) -> bytes:
    try:
        if file in (None, "-"):
            return sys.stdin.buffer.read(MOST_BYTES + 1)
        with Path(str(file)).open("rb") as opened:
            return opened.read(MOST_BYTES + 1)
    except (OSError, ValueError) as fault:
        reason = fault.strerror if isinstance(fault, OSError) and fault.strerror else "not a name of a file"
        raise Unreadable(f"{shown(str(file or 'standard input'))} cannot be read ({reason})") from None


def refuse(what: str, mend: str) -> NoReturn:
    """Tell on one line of standard error what to mend, and end with the code for bad input."""
    line = f"batterboard: {what}: {shown(mend, 400)}\n"
    sys.stderr.write(line.encode("ascii", "backslashreplace").decode("ascii"))
    sys.exit(BAD_INPUT)
