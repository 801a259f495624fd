"""After commit: wake the jobs. Bounded in time, never raises, carries ids only.

What is owed is already a committed row when the bell rings. A bell that is not heard costs the time until the
next tick, nothing else; so a broker that is down or silent must not turn a saved page into an error, nor hold
it for longer than one try.
"""

import logging
import uuid
from time import monotonic

from django.db import transaction

from oneonone.celery import app

log = logging.getLogger(__name__)
DRAIN = "tasks.schedule.drain"
MOST_IDS = 100  # in one message; the jobs look at everything that is due anyway
DEAF_SECONDS = 5  # after a failure no page waits for the broker again for this long

_deaf_until = 0.0


def ring(*ids: uuid.UUID | int) -> None:
    """Once the present transaction is committed, ask the jobs to look at what is owed now.

    `ids` name the rows that changed. However often it is asked for, it rings once for a transaction. Outside
    one it rings at once. A rollback silences it.
    """
    if bell := _already_asked_for():
        bell.ids.update(ids)
    else:
        transaction.on_commit(_Bell(ids), robust=True)


class _Bell:
    """What runs after the commit. It raises nothing."""

    def __init__(self, ids: tuple[uuid.UUID | int, ...]) -> None:
        self.ids = set(ids)

    def __call__(self) -> None:
        global _deaf_until
        if monotonic() < _deaf_until:
            return
        try:
            app.send_task(DRAIN, args=self._named(), retry=False, ignore_result=True)
        except Exception as fault:
            # Every client and transport has exceptions of its own; whichever it is, the tick does the work.
            _deaf_until = monotonic() + DEAF_SECONDS
            log.warning("doorbell not heard (%s); the next tick sees what is owed", type(fault).__name__)

    def _named(self) -> list[str]:
        return sorted(str(row) for row in self.ids)[:MOST_IDS]


def _already_asked_for() -> _Bell | None:
    """A bell of this transaction that rings whenever the present savepoint is kept."""
    connection = transaction.get_connection()
    savepoints = set(connection.savepoint_ids)
    for asked_in, callback, _robust in connection.run_on_commit:
        if isinstance(callback, _Bell) and asked_in <= savepoints:
            return callback
    return None
