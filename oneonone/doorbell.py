"""After commit: wake the jobs. Bounded in time, never raises, carries nothing.

The due rows are committed before the message is sent, so a lost message only delays the work until the next
tick. A broker that is down must therefore neither turn a saved page into an error nor delay it for longer
than one attempt.
"""

import logging
from time import monotonic

from django.db import transaction

from oneonone.celery import app

log = logging.getLogger(__name__)
DRAIN = "tasks.schedule.drain"
DEAF_SECONDS = 5  # after a failure no page waits for the broker again for this long

_deaf_until = 0.0


def ring() -> None:
    """Once the present transaction is committed, ask the jobs to look at what is owed now.

    However often it is asked for, and in whatever nested parts, it rings once for a transaction. Outside one
    it rings at once. A rollback silences what was asked for in the part that is rolled back.
    """
    connection = transaction.get_connection()
    earlier = [
        (asked_in, bell) for asked_in, bell, _robust in connection.run_on_commit if isinstance(bell, _Bell)
    ]
    if any(asked_in <= set(connection.savepoint_ids) for asked_in, _bell in earlier):
        return
    transaction.on_commit(_Bell(earlier[0][1].rung if earlier else _Rung()), robust=True)


class _Rung:
    """Whether the bell of a transaction has rung. Its nested parts have bells of their own and share this."""

    yet = False


class _Bell:
    """The callback that runs after the commit. It raises nothing."""

    def __init__(self, rung: _Rung) -> None:
        self.rung = rung

    def __call__(self) -> None:
        global _deaf_until
        if self.rung.yet or monotonic() < _deaf_until:
            return
        self.rung.yet = True
        try:
            app.send_task(DRAIN, retry=False, ignore_result=True)
        except Exception as fault:
            # Each client and transport has its own exceptions. After any of them the next tick does the work.
            _deaf_until = monotonic() + DEAF_SECONDS
            log.warning("doorbell not heard (%s); the next tick sees what is owed", type(fault).__name__)
