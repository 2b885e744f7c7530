"""`manage.py project_dump SLUG [FILE]`: write a whole project as one JSON document."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from projects.faults import Refused
from projects.models import Project
from reports.exchange import dumping


class Command(BaseCommand):
    help = "Write a whole project, with its attachments, as one JSON document."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("slug", metavar="SLUG")
        parser.add_argument("file", nargs="?", metavar="FILE", help="left out or - for standard output")

    def handle(self, *args: Any, **options: Any) -> None:
        project = Project.objects.filter(slug=options["slug"]).first()
        if project is None:
            raise CommandError(f"There is no project {options['slug']!r}.")
        try:
            data = dumping.as_bytes(project)
            if options["file"] in (None, "-"):
                self.stdout.write(data.decode(), ending="")
            else:
                Path(options["file"]).write_bytes(data)
        except (Refused, OSError) as fault:
            raise CommandError(str(fault)) from None
