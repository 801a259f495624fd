"""Asks one cell of the pages about signing in, and says in what the answer differs from the table."""

from __future__ import annotations

from django.core.cache import cache

from tests.security import tables
from tests.security.account_rows import Account, Away
from tests.security.conftest import A_WHILE_AGO
from tests.security.matrix import ACTORS, WORDS, Matrix, undone, unlogged
from tests.security.routes import METHODS


def run(matrix: Matrix, row: Account, key: str, path: str) -> list[str]:
    """What is wrong in a row: every method, asked by every actor."""
    wrong: list[str] = []
    for actor in ACTORS:
        with undone(), unlogged():
            before = tables.touched()
            for method in METHODS:
                wrong += _faults(matrix, row, path, actor, method)
                _count(matrix, key, method, actor)
            if tables.touched() != before and tables.changed(matrix.baseline, tables.sums()):
                wrong.append(f"{actor}: something was changed by empty forms")
    return wrong


def _faults(matrix: Matrix, row: Account, path: str, actor: str, method: str) -> list[str]:
    outcome = row.of(actor)
    statuses = outcome.statuses if isinstance(outcome, Away) else outcome
    cache.clear()  # tries are counted; how many are too many is tested with the pages
    with undone():
        # Acts on accounts need an administrator who has just shown who he is; here nobody has.
        browser = matrix.browsers[A_WHILE_AGO if actor == "administrator" else actor]
        answer = browser.ask(method, path, {} if method not in ("GET", "HEAD") else None)
    expected = statuses[METHODS.index(method)]
    if answer.status != expected:
        return [f"{method} {path} as {actor}: {answer.status} and not {expected}"]
    if isinstance(outcome, Away) and not answer.header("Location").startswith(outcome.to):
        return [f"{method} {path} as {actor}: goes to {answer.header('Location')}"]
    return [f"{method} {path} as {actor}: shows {word}" for word in WORDS.findall(answer.text)]


def _count(matrix: Matrix, key: str, method: str, actor: str) -> None:
    tally = matrix.tally
    tally.cells += 1
    tally.routes.add(key)
    tally.methods.add(method)
    tally.actors.add(actor)
