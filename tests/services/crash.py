"""A process that dies at its n-th statement: what was not committed is gone, what was committed stays."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from django.db import connection


class Died(BaseException):
    """Raised in place of a statement. No code may catch it: a killed process runs no handler either."""


@contextmanager
def dies_at(number: int) -> Iterator[list[int]]:
    """Let ``number`` statements through and raise at the next; yields a list that holds how many ran."""
    ran = [0]
    died = False

    def count(execute: Callable[..., Any], sql: str, params: Any, many: bool, context: Any) -> Any:
        nonlocal died
        if ran[0] == number and not died:
            died = True
            raise Died
        # Afterwards only what a database does by itself for a client that is gone: it rolls back.
        ran[0] += 1
        return execute(sql, params, many, context)

    with connection.execute_wrapper(count):
        yield ran


def at_every_step(act: Callable[[], object], after: Callable[[], None], *, most: int = 2000) -> int:
    """Call ``act`` dying at the first statement, then at the second, and so on until it comes through.

    ``after`` is called after each death. Each attempt goes on from what the one before it left. Returns how
    often it died.
    """
    for number in range(most):
        try:
            with dies_at(number):
                act()
        except Died:
            after()
        else:
            return number
    raise AssertionError(f"not through after {most} statements")
