"""PostgreSQL's superuser, whom row-level security does not bind, on the server that the tests run on."""

from __future__ import annotations

import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import psycopg
from django.db import connection

from tests.engines import throwaway


def url() -> str:
    """The database that the tests are connected to, for the superuser that the server began with."""
    parts = connection.settings_dict
    return f"postgresql://postgres@{parts['HOST']}:{parts['PORT']}/{parts['NAME']}"


@contextmanager
def connected() -> Iterator[psycopg.Connection[Any]]:
    """A second connection, each statement of which is committed at once."""
    with psycopg.connect(url(), autocommit=True) as there:
        yield there


def run(program: str, *options: str) -> bytes:
    """What one of PostgreSQL's own programs says about this database."""
    programs = throwaway.postgresql_programs()
    assert programs
    words = [str(programs / program), *options, url()]
    return subprocess.run(words, capture_output=True, check=True, timeout=120).stdout
