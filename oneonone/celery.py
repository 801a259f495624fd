"""The doorbell of the background jobs: one periodic tick, JSON only, nothing kept in the broker that matters.

What is owed is a row; a message only says "look now". So a lost message costs at most one tick of latency.
"""

import os
from datetime import timedelta
from typing import Any

from celery import Celery, signals
from django.conf import settings

from oneonone.serving import entry

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "oneonone.settings")

TICK_TASK = "tasks.schedule.tick"
TICK = timedelta(seconds=5 if settings.DEMO else 30)
HARD_LIMIT_SECONDS = 120

SETTINGS: dict[str, Any] = {
    "broker_connection_timeout": 1,
    "broker_connection_retry_on_startup": True,
    "task_default_queue": "oneonone",
    "task_serializer": "json",
    "accept_content": ["json"],
    "result_backend": None,
    "task_ignore_result": True,
    # A message is done with once a worker has it. What it rang for is a row, so a worker that is killed costs
    # the time until the next tick. A late acknowledgement would win nothing and lose the worker: one that
    # holds an unacknowledged message when Redis goes away ends (seen with Celery 5.7 and kombu 5.7).
    "task_acks_late": False,
    "task_time_limit": HARD_LIMIT_SECONDS,
    "task_soft_time_limit": HARD_LIMIT_SECONDS - 20,
    "task_publish_retry": False,
    "timezone": "UTC",
    "enable_utc": True,
    "worker_hijack_root_logger": False,
    "worker_prefetch_multiplier": 4,
    "worker_disable_prefetch": bool(settings.REDIS_URL),  # for the same reason; Redis alone knows it
    "worker_max_tasks_per_child": 1000,
    "worker_eta_task_limit": 1,
    "worker_send_task_events": False,
    # One entry, whose slots are rows: beat keeps no history and leaves no file.
    "beat_scheduler": "celery.beat:Scheduler",
    "beat_max_loop_interval": 5,
    "beat_schedule": {"tick": {"task": TICK_TASK, "schedule": TICK}},
    "imports": ["tasks.schedule"],
}


def redis_options() -> dict[str, Any]:
    """How Redis is spoken to: a broker that accepts and never answers must not hold a page."""
    return {
        "socket_timeout": 1,
        "socket_connect_timeout": 1,
        "max_retries": 0,
    }


app = Celery("oneonone", broker=settings.REDIS_URL or "memory://localhost/")
app.conf.update(
    SETTINGS,
    broker_transport_options=redis_options() if settings.REDIS_URL else {"polling_interval": 0.1},
)


@signals.celeryd_init.connect(weak=False)
def judge_worker(**kwargs: Any) -> None:
    """A worker of its own begins, before it forks."""
    entry.worker()


@signals.beat_init.connect(weak=False)
def judge_beat(**kwargs: Any) -> None:
    """A beat begins, before its first message."""
    entry.beat()
