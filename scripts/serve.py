"""Serve the program on this machine: bring the database up to date, load the demo into an empty one, listen."""

import errno
import os
import socket
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
HOST = "127.0.0.1"


def wanted_port() -> int:
    text = os.environ.get("PORT", "8000")
    if not text.isdecimal() or not 0 < int(text) < 65536:
        sys.exit(f"Batterboard: PORT must be a number from 1 to 65535, not {text!r}.")
    return int(text)


def bound_socket(port: int) -> socket.socket:
    """Take the port first, so that a busy one is told before anything else is done."""
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    if os.name == "posix":
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((HOST, port))
    except OSError as fault:
        listener.close()
        if fault.errno not in (errno.EADDRINUSE, errno.EACCES):
            raise
        sys.exit(f"Batterboard: port {port} is not free. Choose another, for example: PORT={port + 1} make run")
    return listener


def prepare_database() -> None:
    from django.core.management import call_command

    call_command("migrate", verbosity=0, interactive=False)
    call_command("demo", if_empty=True)


def sign_in_lines(base: str) -> list[str]:
    """One line per person of this machine's database, the first eight by name."""
    from django.urls import reverse

    from projects.models import User
    from projects.signin import tokens

    people = User.objects.filter(is_active=True).order_by("pk")[:8]
    return [
        f"  {person.called:<24} {base}{reverse('sign_in_line', args=[tokens.make(person.username)])}"
        for person in people
    ]


def main() -> None:
    sys.path.insert(0, str(ROOT))
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    port = wanted_port()
    listener = bound_socket(port)
    import waitress
    from django.conf import settings

    from config.wsgi import application

    base = f"http://{HOST}:{port}"
    prepare_database()
    print(f"Batterboard is at {base}  (Ctrl+C stops it)")
    if settings.LOCAL:
        print("Open one of these to be signed in, on this machine, for a day:")
        print("\n".join(sign_in_lines(base)), flush=True)
    try:
        waitress.serve(application, sockets=[listener], threads=8, ident=None, _quiet=True)
    except KeyboardInterrupt:
        print("\nStopped.")


if __name__ == "__main__":
    main()
