"""`manage.py project_load FILE [--slug NEW]`: read a project back from one JSON document."""

import sys
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from projects.faults import Refused
from reports.exchange import loading


class Command(BaseCommand):
    help = "Read a whole project back from one JSON document; all of it, or nothing."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", metavar="FILE", help="- for standard input")
        parser.add_argument("--slug", default="", help="another short name for the project, where its own is taken")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            data = sys.stdin.buffer.read() if options["file"] == "-" else Path(options["file"]).read_bytes()
            project = loading.load(data, slug=options["slug"])
        except (Refused, OSError) as fault:
            raise CommandError(str(fault)) from None
        self.stdout.write(f"Loaded {project.name} as {project.slug}.")
