"""Build the demo project: `manage.py demo`."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from projects.models import Project


class Command(BaseCommand):
    help = "Build the invented demo project."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--if-empty", action="store_true", help="do nothing when there is a project already")

    def handle(self, *args: Any, **options: Any) -> None:
        from reports.demo import load

        if options["if_empty"] and Project.objects.exists():
            return
        if Project.objects.filter(slug=load.SLUG).exists():
            raise CommandError(f"There is a project called {load.SLUG} already; nothing was changed.")
        project = load.load()
        self.stdout.write(f"Built the demo project: {project.name}")
