"""The checks that every entry point does first: environment and database. A fault ends the process with one
line.

`manage.py`, the pages in any web server, the worker and the beat all end with the same line for the same
fault.
"""

from __future__ import annotations

import sys
from concurrent.futures import ThreadPoolExecutor
from typing import NoReturn

import django

from oneonone import checks
from oneonone.serving import launch

# These commands report faults themselves, or need no server.
JUDGE_NOTHING = frozenset(
    {
        "check", "compilemessages", "diffsettings", "help", "makemessages", "makemigrations", "startapp",
        "test", "testserver", "version",
    }
)  # fmt: skip
# Those that make the tables, or bring them up to date.
BEFORE_THE_TABLES = frozenset({"createcachetable", "migrate", "serve", "showmigrations"})
# uvicorn and gunicorn end with all their processes when one ends with this; otherwise they start it anew.
PAGES_CANNOT_START = 3


def command(arguments: list[str]) -> None:
    """Judge what a command of `manage.py` will use; `arguments` begin with its name."""
    name = arguments[0] if arguments else "help"
    if name.startswith("-") or name in JUDGE_NOTHING or {"-h", "--help"} & set(arguments):
        return
    _judge(database=True, migrated=name not in BEFORE_THE_TABLES, keys=False, apart=False)


def pages() -> None:
    """Judge what pages in a web server of their own will use. Within `serve` this has been done."""
    if launch.launched is not None:
        return
    # In a thread, because uvicorn loads the application inside its event loop, where Django asks no database.
    with ThreadPoolExecutor(1) as thread:
        thread.submit(
            _judge, database=True, migrated=True, keys=True, apart=True, code=PAGES_CANNOT_START
        ).result()


def worker() -> None:
    """Judge what a worker of its own will use."""
    if launch.launched is None:
        _judge(database=True, migrated=True, keys=False, apart=True)


def beat() -> None:
    """Judge what a beat of its own will use, which is no database."""
    if launch.launched is None:
        _judge(database=False, migrated=False, keys=False, apart=True)


def _judge(*, database: bool, migrated: bool, keys: bool, apart: bool, code: int = 1) -> None:
    try:
        checks.refuse_faults(apart=apart)
    except checks.EnvironmentRefused as refusal:
        _end(str(refusal), code)
    if database:
        _judge_database(migrated=migrated, keys=keys, code=code)


def _judge_database(*, migrated: bool, keys: bool, code: int) -> None:
    django.setup()
    # The models cannot be imported before.
    from oneonone.serving import database

    try:
        database.refuse_unusable(migrated=migrated)
        if keys:
            database.refuse_foreign_key()
    except database.DatabaseRefused as refusal:
        _end(str(refusal), code)


def _end(line: str, code: int) -> NoReturn:
    # Celery has replaced `sys.stderr` with its log by now, which would add a prefix to the line.
    print(line, file=sys.__stderr__, flush=True)  # where a command's refusals go
    sys.exit(code)
