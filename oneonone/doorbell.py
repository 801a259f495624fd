"""After commit: wake the jobs. Bounded in time, never raises, carries ids only.

What is owed is already a committed row when the bell rings. A bell that is not heard costs the time until the
next tick, nothing else; so a broker that is down or silent must not turn a saved page into an error.
"""

import logging
import uuid

from django.db import transaction

from oneonone.celery import app

log = logging.getLogger(__name__)
DRAIN = "tasks.schedule.drain"


def ring(*ids: uuid.UUID | int) -> None:
    """Once the present transaction is committed, ask the jobs to look at what is owed now.

    `ids` name the rows that changed. Outside a transaction the bell rings at once. A rollback silences it.
    """
    # A lambda, because a partial has no __qualname__ and Django's report of a failing robust callback needs
    # one.
    transaction.on_commit(lambda: _publish(ids), robust=True)


def _publish(ids: tuple[uuid.UUID | int, ...]) -> None:
    try:
        app.send_task(DRAIN, retry=False, ignore_result=True)
    except Exception as fault:
        # Every client and transport has its own exceptions; whatever it is, the tick does the work a little
        # later.
        log.warning(
            "doorbell not heard (%s) for %d rows; the next tick sees them", type(fault).__name__, len(ids)
        )
