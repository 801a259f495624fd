"""The background jobs in their order, one tick in UTC, and a drain that anybody may ring for.

What is owed is a row, and each job finds its own. So a message carries nothing that matters: when it is lost
the next tick sees the row, and when it comes twice the second finds nothing left to do.
"""

from __future__ import annotations

import datetime as dt
import json
import logging
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import partial
from time import monotonic
from typing import Any
from uuid import UUID

from celery import shared_task
from django.db import DatabaseError, IntegrityError, transaction
from django.db.models import QuerySet, Subquery

from oneonone import clock, doorbell, outages
from oneonone.celery import TICK
from oneonone.mail.delivery import deliver_one
from oneonone.mail.post import Post
from oneonone.models import JobHealth, Tick
from oneonone.models.rows_of import assert_no_reader
from oneonone.services.cadence import cadence_jobs
from oneonone.services.commitments import commitment_jobs
from oneonone.services.meetings import meeting_jobs, time_proposals
from oneonone.services.notices import drains, job_queue, mail_sending, mails
from oneonone.services.notices.job_queue import Job
from oneonone.services.upkeep import clock_changes, retention

log = logging.getLogger(__name__)

MOST_ROWS = 500  # of one job in one run, so that no job starves the ones after it
MOST_SECONDS = 60  # of one run: well below the time limit of a task
UPKEEP_EVERY = dt.timedelta(hours=1)
REPAIR_EVERY = dt.timedelta(days=1)
EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)

# In the order in which one makes work for the next; what makes mails comes before mails.
JOBS: tuple[Job[Any], ...] = (
    clock_changes.CLOCKS,
    time_proposals.LAPSE,
    meeting_jobs.COMING,
    meeting_jobs.FOLLOW,
    meeting_jobs.FOLLOW_BEGUN,
    meeting_jobs.ASK,
    meeting_jobs.ASK_LEFT,
    meeting_jobs.GIVE_UP,
    commitment_jobs.CARRY,
    meeting_jobs.INVITE,
    meeting_jobs.ISSUE,
    meeting_jobs.PREPARE,
    meeting_jobs.TODAY,
    meeting_jobs.RECORD,
    commitment_jobs.REMIND,
    commitment_jobs.CUE,
    cadence_jobs.CADENCE,
)
# Scans of everything, for what was missed: they belong to the tick, once a day.
REPAIRS: tuple[Job[Any], ...] = (meeting_jobs.REPAIR_COMING, commitment_jobs.AIM, meeting_jobs.GATHER)
DELIVER = "deliver mails"
TAKE_BACK = "take mails back"
UPKEEP = "upkeep"
REPAIR = "repair"


@dataclass(frozen=True)
class Step:
    """One part of a run: what tells that it has something to do, and the doing, row by row."""

    name: str
    due: Callable[[dt.datetime], QuerySet[Any]]
    rows: Callable[[dt.datetime], Iterator[None]]


def _nothing_due(now: dt.datetime) -> QuerySet[Any]:
    return Tick.objects.none()


@dataclass(frozen=True)
class Run:
    """How many rows each job dealt with, and whether some job stopped before it had dealt with all."""

    done: dict[str, int] = field(default_factory=dict)
    failed: tuple[str, ...] = ()
    more: bool = False


def run_once(now: dt.datetime, *, between: Callable[[], None] = lambda: None) -> Run:
    """Let every job deal with what is due at ``now``: at most 500 rows each, and a minute in all.

    One statement tells which jobs have anything to do. A job that fails leaves the others to run. Running it
    again at the same instant changes nothing more. ``between`` is called after every row.
    """
    until = monotonic() + MOST_SECONDS
    done: dict[str, int] = {}
    failed: list[str] = []
    more = False
    with Post() as post:
        steps = _steps(post)
        names = _due(steps, now)
        for place, step in enumerate(steps):
            if step.name not in names:
                continue
            count, well, left = _run(step, now, until, between)
            done[step.name] = count
            more |= left
            if not well:
                failed.append(step.name)
            elif count:
                # It may have made work for the steps after it.
                names = _due(steps[place + 1 :], now)
    job_queue.succeeded(job=JobHealth.RUN, now=now)
    run = Run(done, tuple(failed), more)
    _tell(run, now, MOST_SECONDS - (until - monotonic()))
    return run


def _tell(run: Run, now: dt.datetime, seconds: float) -> None:
    """One line of the log for a run that did anything: numbers, and names of jobs."""
    told = {"jobs_run": now.isoformat(), "seconds": round(seconds, 3), "done": run.done}
    told |= {"failed": run.failed, "more": run.more}
    log.log(logging.INFO if run.done or run.failed else logging.DEBUG, json.dumps(told))


def _steps(post: Post) -> tuple[Step, ...]:
    return (
        *(_step(job) for job in JOBS),
        Step(TAKE_BACK, mail_sending.stale, partial(_once, mail_sending.settle_stale)),
        _step(mails.GATHER),
        Step(DELIVER, mail_sending.due, partial(_while, partial(deliver_one, post=post))),
    )


def _step(job: Job[Any]) -> Step:
    return Step(job.name, job.waiting, partial(_each, job))


def _due(steps: tuple[Step, ...], now: dt.datetime) -> set[str]:
    """The names of the steps that have something to do, in one statement.

    A step that cannot even ask is run, which notes its failure.
    """
    names, asked = set(), {}
    for number, step in enumerate(steps):
        try:
            # The first in the order in which they are due, and not whether there is any: for that PostgreSQL
            # reads the whole table where it expects many, and the index of what is due goes unused.
            asked[f"due_{number}"] = Subquery(step.due(now).values("pk")[:1])
        except Exception:
            names.add(step.name)
    if not asked:
        return names
    # Any row that is there would do to ask beside.
    beside = JobHealth.objects.filter(job=JobHealth.RUN).annotate(**asked).values(*asked)
    told = beside.first()
    if told is None:
        job_queue.succeeded(job=JobHealth.RUN, now=now)
        told = beside.get()
    return names | {steps[int(name.removeprefix("due_"))].name for name, due in told.items() if due}


def _each(job: Job[Any], now: dt.datetime) -> Iterator[None]:
    return job.each(now, most=MOST_ROWS)


def _while(do_one: Callable[[dt.datetime], bool], now: dt.datetime) -> Iterator[None]:
    for _row in range(MOST_ROWS):
        if not do_one(now):
            return
        yield


def _once(do: Callable[[dt.datetime], int], now: dt.datetime) -> Iterator[None]:
    do(now)
    yield


def _run(step: Step, now: dt.datetime, until: float, between: Callable[[], None]) -> tuple[int, bool, bool]:
    """How many rows the step dealt with, whether it went well, and whether it may have left some."""
    count = 0
    try:
        for _row in step.rows(now):
            count += 1
            between()
            if monotonic() > until:
                break
        if count:
            job_queue.succeeded(job=step.name, now=now)
    except Exception as fault:
        if outages.reason(fault):
            raise  # no job could do anything, and each would wait for the database
        log.exception("%s stopped; the next run goes on", step.name)
        _note_failure(step.name, now)
        return count, False, False
    return count, True, count >= MOST_ROWS or monotonic() > until


def _note_failure(name: str, now: dt.datetime) -> None:
    try:
        job_queue.failed(job=name, now=now)
    except DatabaseError:
        log.warning("%s: the failure could not be noted either", name, exc_info=True)


def slot_of(now: dt.datetime, every: dt.timedelta) -> dt.datetime:
    """When the present slot of the clock began. Counted from 1970 in UTC, so every scheduler agrees."""
    return now - (now - EPOCH) % every


def take_slot(schedule: str, now: dt.datetime, *, every: dt.timedelta) -> bool:
    """Whether this process is the one to work in the present slot, of all that were rung for it."""
    try:
        with transaction.atomic():
            Tick(schedule=schedule, due_at=slot_of(now, every)).save(force_insert=True)
    except IntegrityError:
        return False
    return True


def _upkeep_of(name: str) -> Iterator[Step]:
    if name == REPAIR:
        yield from map(_step, REPAIRS)
    else:
        yield Step(UPKEEP, _nothing_due, partial(_once, clock_changes.learn))
        yield Step(UPKEEP, _nothing_due, partial(_once, retention.sweep))


@shared_task(name="tasks.schedule.tick")
def tick() -> None:
    """What beat rings: once in each slot of the clock, everything that is due, and the upkeep."""
    now = clock.now()
    if not take_slot("tick", now, every=TICK):
        return
    if token := drains.begin(now):
        with _held(token):
            _upkeep(now)
            _drain(token)


@shared_task(name="tasks.schedule.drain")
def drain() -> None:
    """What the doorbell rings: whatever is due is done, and once more if it is rung for meanwhile."""
    if token := drains.begin(clock.now()):
        with _held(token):
            _drain(token)


def _upkeep(now: dt.datetime) -> None:
    """What belongs to the tick alone: upkeep by the hour, and by the day the repairs."""
    slots = {UPKEEP: UPKEEP_EVERY, REPAIR: REPAIR_EVERY}
    begun = {slot_of(now, every) for every in slots.values()}
    taken = set(Tick.objects.filter(due_at__in=begun).values_list("schedule", "due_at"))
    until = monotonic() + MOST_SECONDS
    steps: list[Step] = []
    for name, every in slots.items():
        if (name, slot_of(now, every)) not in taken and take_slot(name, now, every=every):
            steps += _upkeep_of(name)
    for step in steps:
        _run(step, now, until, lambda: None)


def _drain(token: UUID) -> None:
    """Work until nothing is left; what takes longer than a minute is rung for anew."""
    assert_no_reader()
    until = monotonic() + MOST_SECONDS
    while True:
        run = run_once(clock.now(), between=_Renewal(token))
        if run.more or monotonic() > until:
            drains.give_up(token)
            doorbell.ring()
            return
        if drains.end(token, clock.now()):
            return


@contextmanager
def _held(token: UUID) -> Iterator[None]:
    """Let nobody wait for the lease to run out when the work ends with an error."""
    try:
        yield
    except Exception:
        drains.give_up(token)
        raise


class _Renewal:
    """Renews the lease of a drain now and then, while it is at work."""

    def __init__(self, token: UUID) -> None:
        self.token, self.last = token, monotonic()

    def __call__(self) -> None:
        if monotonic() - self.last > drains.RENEWED_EVERY_SECONDS:
            self.last = monotonic()
            drains.renew(self.token, clock.now())
