"""A tick that finds nothing to do: how often it asks, and what it costs the database, by people and history.

The cost is the processor time of the connection's own server process, read from the kernel around many ticks.
"""

from __future__ import annotations

import datetime as dt
import os
import sys
from pathlib import Path
from time import perf_counter

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from accounts.models import Person
from oneonone import clock
from oneonone.celery import TICK
from oneonone.models import ZoneRules
from tasks import schedule
from tests.bench import worked
from tests.bench.grow import grow

TICKS = 30
MOST_QUERIES = 10
MOST_MILLISECONDS = 20
SIZES = (10, 1_000, 10_000)


def cpu_seconds(pid: int) -> float:
    """User and system time of a process: fields 14 and 15 of its line in /proc (proc(5))."""
    fields = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
def test_an_idle_tick(lead: Person, held_clock: dt.datetime, capsys: pytest.CaptureFixture[str]) -> None:
    told, costs = [], []
    now, grown = held_clock, 0
    for place, size in enumerate(SIZES):
        first = now + place * (TICKS + 4) * TICK
        grow(lead, size - grown, now=now, seed=size)
        grown = size
        worked.add_commitments(now)
        worked.finish(now)
        worked.add_history(now)
        for warm_up in range(3):
            clock.hold_at(first + warm_up * TICK)
            schedule.tick()
            ZoneRules.objects.update(look_at=now + dt.timedelta(days=1))
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_backend_pid()")
            (pid,) = cursor.fetchone()
        asked: list[int] = []
        before, began = cpu_seconds(pid), perf_counter()
        for number in range(TICKS):
            clock.hold_at(first + (number + 3) * TICK)
            with CaptureQueriesContext(connection) as captured:
                schedule.tick()
            asked.append(len(captured))
        cost = (cpu_seconds(pid) - before) / TICKS * 1000
        took = (perf_counter() - began) / TICKS * 1000
        costs.append(cost)
        told.append(f"{size:6d} people: {max(asked)} queries, database {cost:.1f} ms, {took:.0f} ms in all")
        # One that finds its slot of the clock taken would ask less.
        assert 5 <= min(asked) <= max(asked) <= MOST_QUERIES
    with capsys.disabled():
        sys.stdout.write("\n" + "\n".join(told) + "\n")
    assert max(costs) <= MOST_MILLISECONDS
