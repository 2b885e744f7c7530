#!/usr/bin/env python
"""The command line of the program: `python manage.py help` lists the commands."""

import os
import sys


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    try:
        from django.core.management import execute_from_command_line
    except ImportError:
        sys.exit("Django is not installed here. Run `make run` or `python scripts/setup.py install` first.")
    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
