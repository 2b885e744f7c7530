"""Print a web address that signs one person in on this machine."""

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.urls import reverse

from projects.models import User
from projects.signin import tokens


class Command(BaseCommand):
    help = "Print a web address that signs one person in, on this machine, for one day."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("username")
        parser.add_argument("--base", default="http://127.0.0.1:8000", help="where the program is served")

    def handle(self, *args: object, **options: str) -> None:
        if not settings.LOCAL:
            raise CommandError("Sign-in lines work in local mode only.")
        username = options["username"]
        if not User.objects.filter(username=username, is_active=True).exists():
            raise CommandError(f"Nobody is called {username!r} here.")
        self.stdout.write(options["base"].rstrip("/") + reverse("sign_in_line", args=[tokens.make(username)]))
