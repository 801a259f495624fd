"""Carrying a hundred thousand open commitments, beside the bare statement in the same batches.

The floor inserts the same rows and does nothing else. Beside both one writer changes single rows, as a page
does. Turns alternate.
"""

from __future__ import annotations

import datetime as dt
import statistics
import sys
import threading
from time import perf_counter, sleep
from typing import Self
from uuid import UUID

import pytest
from django.db import connection, transaction

from accounts.models import Person
from oneonone.models import Carry, Commitment, Line, Meeting
from oneonone.services.commitments import carrying
from oneonone.services.commitments.commitment_jobs import CARRY
from tasks import schedule
from tests.bench import worked
from tests.bench.grow import grow

LINES = 10_000
MOST_RATIO = 1.5
MOST_P99_SECONDS = 0.25
TURNS = 2


def prepare(lead: Person, now: dt.datetime) -> list[UUID]:
    """One meeting of each line is over and not carried from yet."""
    grow(lead, LINES, now=now)
    worked.add_commitments(now)
    worked.finish(now)
    last = Meeting.objects.filter(state="closed").order_by("line", "-starts_at").distinct("line")
    ids = list(last.values_list("pk", flat=True))
    Meeting.objects.filter(pk__in=ids).update(carried_at=None, closed_at=now)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    return ids


def begin_anew(ids: list[UUID]) -> None:
    with connection.cursor() as cursor:
        cursor.execute("TRUNCATE oneonone_carry")
        Meeting.objects.filter(pk__in=ids).update(carried_at=None)
        cursor.execute("VACUUM ANALYZE oneonone_meeting")


def floor(ids: list[UUID], now: dt.datetime) -> float:
    began = perf_counter()
    for place in range(0, len(ids), schedule.MOST_ROWS):
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(
                """
                INSERT INTO oneonone_carry
                    (id, commitment_id, from_meeting_id, to_meeting_id, cause, date_then, at)
                SELECT gen_random_uuid(), c.id, m.id, f.id, 'closed', c."current_date", %s
                FROM oneonone_meeting m JOIN oneonone_commitment c ON c.line_id = m.line_id
                LEFT JOIN oneonone_meeting f ON f.line_id = m.line_id AND f.state = 'planned'
                WHERE m.id = ANY(%s) AND c.state = 'open'
                ON CONFLICT DO NOTHING
                """,
                [now, ids[place : place + schedule.MOST_ROWS]],
            )
    return perf_counter() - began


def ours(now: dt.datetime) -> float:
    began = perf_counter()
    while len(list(CARRY.each(now, most=schedule.MOST_ROWS))):
        pass
    return perf_counter() - began


class Writer(threading.Thread):
    """Changes one row after another, and keeps how long each took."""

    def __init__(self, ids: list[UUID]) -> None:
        super().__init__()
        self.ids, self.seconds, self.stop = ids, [0.0], threading.Event()

    def run(self) -> None:
        number = 0
        while not self.stop.is_set():
            began = perf_counter()
            Commitment.objects.filter(pk=self.ids[number % len(self.ids)]).update(version=number % 1000 + 1)
            self.seconds.append(perf_counter() - began)
            number += 37
            sleep(0.005)
        connection.close()

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, *fault: object) -> None:
        self.stop.set()
        self.join()

    @property
    def p99(self) -> float:
        return statistics.quantiles(self.seconds, n=100)[98]


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
def test_carrying_beside_the_bare_statement(
    lead: Person, now: dt.datetime, capsys: pytest.CaptureFixture[str]
) -> None:
    ids = prepare(lead, now)
    changed = list(Commitment.objects.values_list("pk", flat=True)[:5000])
    bare, own, waits, number = [], [], [], 0
    for _turn in range(TURNS):
        begin_anew(ids)
        with Writer(changed):
            bare.append(floor(ids, now))
        number = Carry.objects.count()
        begin_anew(ids)
        with Writer(changed) as writer:
            own.append(ours(now))
        waits.append(writer.p99)
        assert Carry.objects.count() == number
    assert carrying.carry_all(meetings=list(Meeting.objects.filter(pk__in=ids[:500])), now=now) == 0
    assert Carry.objects.count() == number
    assert not Carry.objects.filter(
        to_meeting=None, from_meeting__line__in=Line.objects.filter(meetings__state="planned")
    ).exists()
    ratio = min(own) / min(bare)
    with capsys.disabled():
        sys.stdout.write(
            f"\n{number} commitments: {min(own):.2f} s, floor {min(bare):.2f} s, ratio {ratio:.2f};"
            f" other writers' p99 {max(waits) * 1000:.0f} ms\n"
        )
    assert ratio <= MOST_RATIO
    assert max(waits) <= MOST_P99_SECONDS
