"""Wake the background jobs after a commit. Time is bounded, nothing is raised, messages contain only ids.

The due rows are committed before the message is sent, so a lost message only delays the work until the next
tick. A broker that is down must therefore neither turn a saved page into an error nor delay it for longer
than one attempt.
"""

import logging
import uuid
from time import monotonic

from django.db import transaction

from oneonone.celery import app

log = logging.getLogger(__name__)
DRAIN = "tasks.schedule.drain"
MOST_IDS = 100  # in one message; the jobs check everything that is due anyway
DEAF_SECONDS = 5  # after a failure the broker is not tried again for this long

_deaf_until = 0.0


def ring(*ids: uuid.UUID | int) -> None:
    """Wake the jobs after the current transaction commits.

    ``ids`` are the rows that changed. One message is sent for a transaction, however often this is called.
    Outside a transaction it is sent at once. After a rollback none is sent.
    """
    if bell := _already_asked_for():
        bell.ids.update(ids)
    else:
        transaction.on_commit(_Bell(ids), robust=True)


class _Bell:
    """The callback that runs after the commit. It raises nothing."""

    def __init__(self, ids: tuple[uuid.UUID | int, ...]) -> None:
        self.ids = set(ids)

    def __call__(self) -> None:
        global _deaf_until
        if monotonic() < _deaf_until:
            return
        try:
            app.send_task(DRAIN, args=self._named(), retry=False, ignore_result=True)
        except Exception as fault:
            # Each client and transport has its own exceptions. After any of them the next tick does the work.
            _deaf_until = monotonic() + DEAF_SECONDS
            log.warning("doorbell not heard (%s); the next tick sees what is owed", type(fault).__name__)

    def _named(self) -> list[str]:
        return sorted(str(row) for row in self.ids)[:MOST_IDS]


def _already_asked_for() -> _Bell | None:
    """A callback of this transaction that runs whenever the current savepoint is kept."""
    connection = transaction.get_connection()
    savepoints = set(connection.savepoint_ids)
    for asked_in, callback, _robust in connection.run_on_commit:
        if isinstance(callback, _Bell) and asked_in <= savepoints:
            return callback
    return None
