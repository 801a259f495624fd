"""Worker and beat inside the serving process, for a server without Redis: two threads and a broker in memory.

Messages are lost when the process ends. No work is lost: due work is stored in rows, and the first tick after
a restart finds it.
"""

import logging
import os
import threading

from celery import Celery
from celery.beat import Scheduler, Service
from celery.worker import WorkController
from celery.worker import state as worker_state

from oneonone.celery import TICK_TASK

log = logging.getLogger(__name__)
THREADS = 2
START_SECONDS = 10
STOP_SECONDS = 10


class JobsRefused(Exception):
    """Worker and beat did not start."""


class EmbeddedJobs:
    """Start and stop of worker and beat. A task that runs when the stop is asked for is finished first."""

    def __init__(self, app: Celery) -> None:
        self._app = app
        app.finalize()
        app.loader.import_default_modules()
        self._ready = threading.Event()
        self._worker = WorkController(
            app=app,
            hostname=f"embedded@{os.getpid()}",
            pool_cls="threads",
            concurrency=THREADS,
            without_heartbeat=True,
            without_mingle=True,
            without_gossip=True,
            ready_callback=lambda consumer: self._ready.set(),
        )
        self._beat = Service(app, max_interval=1, scheduler_cls=Scheduler)
        self._worker_thread = threading.Thread(target=self._run_worker, name="celery-worker", daemon=True)
        self._beat_thread = threading.Thread(target=self._run_beat, name="celery-beat", daemon=True)

    def start(self) -> None:
        self._worker_thread.start()
        if not self._ready.wait(START_SECONDS):
            raise JobsRefused("The background jobs did not start.")
        self._beat_thread.start()
        # What fell due while the server was down is done now, not at the end of the first interval.
        self._app.send_task(TICK_TASK)

    def stop(self) -> bool:
        """Let running tasks end; False if one did not within `STOP_SECONDS`."""
        self._beat.stop(wait=False)
        worker_state.should_stop = os.EX_OK  # type: ignore[assignment]  # the consumer's loop looks at this and leaves
        self._worker_thread.join(STOP_SECONDS)
        worker_state.should_stop = None
        self._beat_thread.join(2)
        return not self._worker_thread.is_alive()

    def _run_worker(self) -> None:
        try:
            self._worker.start()
        except SystemExit:
            log.debug("worker left its loop")
        except Exception:
            log.exception("the embedded worker died; due work waits for a restart")

    def _run_beat(self) -> None:
        try:
            self._beat.start(embedded_process=False)
        except Exception:
            log.exception("the embedded beat died; due work waits for a restart")
