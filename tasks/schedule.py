"""The background jobs in their order, one tick in UTC, and a drain that anybody may ring for.

What is owed is a row, and each job finds its own. So a message carries nothing that matters: when it is lost
the next tick sees the row, and when it comes twice the second finds nothing left to do.
"""

from __future__ import annotations

import datetime as dt
import logging
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from time import monotonic
from typing import Any

from celery import shared_task
from django.db import DatabaseError

from oneonone import clock, doorbell, outages
from oneonone.celery import TICK
from oneonone.mail.delivery import deliver_one
from oneonone.mail.post import Post
from oneonone.models import Tick
from oneonone.models.rows_of import assert_no_reader
from oneonone.services import (
    jobs_cadence,
    jobs_clocks,
    jobs_commitments,
    jobs_meetings,
    jobs_queue,
    jobs_upkeep,
    mails,
    sending,
    timeproposals,
)
from oneonone.services.jobs_queue import Job

log = logging.getLogger(__name__)

MOST_ROWS = 200  # of one job in one run, so that no job starves the ones after it
MOST_SECONDS = 60  # of one run: well below the time limit of a task
UPKEEP_EVERY = dt.timedelta(hours=1)
EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)

# In the order in which one makes work for the next; what makes mails comes before mails.
JOBS: tuple[Job[Any], ...] = (
    jobs_clocks.CLOCKS,
    timeproposals.LAPSE,
    jobs_meetings.COMING,
    jobs_meetings.ASK,
    jobs_meetings.GIVE_UP,
    jobs_commitments.CARRY,
    jobs_commitments.AIM,
    jobs_meetings.GATHER,
    jobs_meetings.INVITE,
    jobs_meetings.ISSUE,
    jobs_meetings.TODAY,
    jobs_meetings.RECORD,
    jobs_commitments.REMIND,
    jobs_commitments.CUE,
    jobs_cadence.CADENCE,
)
GATHER_MAILS = "mail notices"
DELIVER = "deliver mails"
UPKEEP = "upkeep"


@dataclass(frozen=True)
class Run:
    """How many rows each job dealt with, and whether some job stopped before it had dealt with all."""

    done: dict[str, int]
    more: bool


def run_once(now: dt.datetime) -> Run:
    """Let every job deal with what is due at ``now``: at most 200 rows each, and a minute in all.

    A job that fails leaves the others to run. Running it again at the same instant changes nothing more.
    """
    until = monotonic() + MOST_SECONDS
    done = {job.name: _run(job.name, job.each(now, most=MOST_ROWS), now, until) for job in JOBS}
    done[GATHER_MAILS] = _run(GATHER_MAILS, _while(mails.gather_one, now), now, until)
    with Post() as post:
        done[DELIVER] = _run(DELIVER, _while(partial(deliver_one, post=post), now), now, until)
    return Run(
        {name: count for name, (count, _more) in done.items()}, any(more for _count, more in done.values())
    )


def _while(do_one: Callable[[dt.datetime], bool], now: dt.datetime) -> Iterator[None]:
    for _row in range(MOST_ROWS):
        if not do_one(now):
            return
        yield


def _once(do: Callable[[dt.datetime], int], now: dt.datetime) -> Iterator[None]:
    do(now)
    yield


def _run(name: str, rows: Iterator[None], now: dt.datetime, until: float) -> tuple[int, bool]:
    """How many rows the job dealt with, and whether it may have left some."""
    count = 0
    try:
        for _row in rows:
            count += 1
            if monotonic() > until:
                break
        jobs_queue.succeeded(job=name, now=now)
    except Exception as fault:
        if outages.reason(fault):
            raise  # no job could do anything, and each would wait for the database
        log.exception("%s stopped; the next run goes on", name)
        _note_failure(name, now)
        return count, False
    return count, count == MOST_ROWS or monotonic() > until


def _note_failure(name: str, now: dt.datetime) -> None:
    try:
        jobs_queue.failed(job=name, now=now)
    except DatabaseError:
        log.warning("%s: the failure could not be noted either", name, exc_info=True)


def take_slot(schedule: str, now: dt.datetime, *, every: dt.timedelta) -> bool:
    """Whether this process is the one to work in the present slot of the clock, of all that were rung for it.

    Slots are counted from 1970 in UTC, so every scheduler counts the same ones.
    """
    slot = now - (now - EPOCH) % every
    _tick, mine = Tick.objects.get_or_create(schedule=schedule, due_at=slot)
    return mine


@shared_task(name="tasks.schedule.tick")
def tick() -> None:
    """What beat rings: once in each slot of the clock, everything that is due."""
    now = clock.now()
    if not take_slot("tick", now, every=TICK):
        return
    sending.take_back(now)
    sending.find_unknown(now)
    if take_slot("upkeep", now, every=UPKEEP_EVERY):
        for part in (jobs_clocks.learn, jobs_upkeep.sweep):
            _run(UPKEEP, _once(part, now), now, monotonic() + MOST_SECONDS)
    _drain(now)


@shared_task(name="tasks.schedule.drain")
def drain(*ids: str) -> None:
    """What the doorbell rings. ``ids`` name the rows that changed; whatever is due is looked at."""
    _drain(clock.now())


def _drain(now: dt.datetime) -> None:
    assert_no_reader()
    if run_once(now).more:
        doorbell.ring()
