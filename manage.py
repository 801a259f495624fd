#!/usr/bin/env python
"""The command line of the project: `python manage.py serve --demo` is the way in."""

import os
import sys

MINIMUM = (3, 11)


def main() -> None:
    if sys.version_info < MINIMUM:
        sys.exit("Python 3.11 or newer is needed; this is {}.{}.".format(*sys.version_info[:2]))
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "oneonone.settings")
    try:
        from django.core.management import execute_from_command_line
    except ImportError:
        sys.exit(
            "Django is not installed for this Python. Install the locked packages first:\n"
            "  python -m pip install --require-hashes -r requirements.lock"
        )
    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
