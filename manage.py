#!/usr/bin/env python
"""The command line of the project: `python manage.py serve --demo` is the way in."""

import os
import sys

MINIMUM = (3, 11)


def main() -> None:
    if sys.version_info < MINIMUM:
        sys.exit(f"Python 3.11 or newer is needed; this is {sys.version_info[0]}.{sys.version_info[1]}.")
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "oneonone.settings")
    if sys.argv[1:2] == ["serve"]:
        # Folder, keys and port come first: the settings read them, and Django reads the settings before a
        # command.
        from oneonone.serving import launch

        launch.prepare(sys.argv[2:])
    try:
        from django.core.management import execute_from_command_line

        from oneonone.serving import entry
    except ImportError:
        sys.exit(
            "Django is not installed for this Python. Install the locked packages first:\n"
            "  python -m pip install --require-hashes -r requirements.lock"
        )
    entry.command(sys.argv[1:])
    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
