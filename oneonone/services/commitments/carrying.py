"""Carry open commitments automatically from one meeting to the next.

A carry is a row, unique for a commitment and the meeting it left. It stores its cause and the commitment's
date at that time. How often a commitment was carried is counted from the rows: ``Carry.objects.counted()``.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterator, Sequence
from typing import Any
from uuid import UUID

from django.db import connection, transaction
from django.db.models import Count, F, Q, QuerySet

from oneonone.models import Carry, Commitment, Meeting, Notice
from oneonone.models.meetings import TO_CARRY
from oneonone.services.agenda import third_time
from oneonone.services.notices import notices

ASKED_FROM = 2
MOST_COMMITMENTS = 20_000  # of one batch; a meeting with more is a batch of its own

# One statement for all of a batch. Rows made one by one in Python cost twelve times as much.
_INSERT = {
    "postgresql": """
        WITH leaving AS (
            SELECT m.id, m.line_id,
                coalesce(m.closed_at, m.called_off_at, m.given_up_at, %s) AS until,
                CASE WHEN m.state = 'closed' THEN 'closed' WHEN l.ended_at IS NOT NULL THEN 'ended'
                    WHEN m.state = 'called_off' THEN 'called_off' ELSE 'not_held' END AS cause,
                (SELECT f.id FROM oneonone_meeting f
                    WHERE f.line_id = m.line_id AND f.state IN ('planned', 'issued', 'under_way')
                        AND f.given_up_at IS NULL AND f.id <> m.id
                    ORDER BY f.starts_at, f.id LIMIT 1) AS following
            FROM oneonone_meeting m JOIN oneonone_line l ON l.id = m.line_id
            WHERE m.id = ANY(%s)
        )
        INSERT INTO oneonone_carry
            (id, commitment_id, from_meeting_id, to_meeting_id, cause, date_then, at)
        SELECT gen_random_uuid(), c.id, g.id, CASE WHEN g.cause <> 'ended' THEN g.following END, g.cause,
            c."current_date", %s
        FROM leaving g
        JOIN oneonone_commitment c ON c.line_id = g.line_id AND c.state = 'open' AND c.created_at <= g.until
        ON CONFLICT DO NOTHING
    """,
    "sqlite": """
        WITH leaving AS (
            SELECT m.id, m.line_id,
                coalesce(m.closed_at, m.called_off_at, m.given_up_at, %s) AS until,
                CASE WHEN m.state = 'closed' THEN 'closed' WHEN l.ended_at IS NOT NULL THEN 'ended'
                    WHEN m.state = 'called_off' THEN 'called_off' ELSE 'not_held' END AS cause,
                (SELECT f.id FROM oneonone_meeting f
                    WHERE f.line_id = m.line_id AND f.state IN ('planned', 'issued', 'under_way')
                        AND f.given_up_at IS NULL AND f.id <> m.id
                    ORDER BY f.starts_at, f.id LIMIT 1) AS following
            FROM oneonone_meeting m JOIN oneonone_line l ON l.id = m.line_id
            WHERE m.id IN (SELECT value FROM json_each(%s))
        )
        INSERT INTO oneonone_carry
            (id, commitment_id, from_meeting_id, to_meeting_id, cause, date_then, at)
        SELECT lower(hex(randomblob(16))), c.id, g.id, CASE WHEN g.cause <> 'ended' THEN g.following END,
            g.cause, c."current_date", %s
        FROM leaving g
        JOIN oneonone_commitment c ON c.line_id = g.line_id AND c.state = 'open' AND c.created_at <= g.until
        WHERE true
        ON CONFLICT DO NOTHING
    """,
}


def due(now: dt.datetime) -> QuerySet[Meeting]:
    """Meetings that are over or given up, and whose commitments have not been carried on yet."""
    return (
        Meeting.objects.filter(TO_CARRY).only("id", "line", "state", "starts_at").order_by("starts_at", "id")
    )


def carry(*, meeting: Meeting, now: dt.datetime) -> bool:
    """Carry the open commitments of a meeting that is over to the line's earliest coming meeting.

    Returns False if another process has claimed the meeting. The original date of a commitment stays. Without
    a coming meeting the carry has no target yet; on an ended line it never gets one.
    """
    carried = carry_all(meetings=[meeting], now=now)
    meeting.refresh_from_db()
    return carried > 0


@transaction.atomic
def carry_all(*, meetings: Sequence[Meeting], now: dt.datetime) -> int:
    """The same for many meetings at once, each wholly or not at all; how many were carried from.

    At most 20,000 commitments are carried: the meetings that would make it more are left for the next time.
    Those that another process is carrying from are left to it.
    """
    wanted = list(_within_the_batch(meetings))
    free = Meeting.objects.select_for_update(skip_locked=True, of=("self",)).filter(TO_CARRY, pk__in=wanted)
    claimed = dict(free.values_list("pk", "state"))
    if not claimed:
        return 0
    with connection.cursor() as cursor:
        cursor.execute(_INSERT[connection.vendor], _parameters(list(claimed), now))
    Meeting.objects.filter(pk__in=claimed).update(carried_at=now)
    held = [pk for pk, state in claimed.items() if state == Meeting.State.CLOSED]
    third_time.ask(meetings=held, now=now)
    ask_for_choices(meetings=held, now=now)
    return len(claimed)


def ask_for_choices(*, meetings: Sequence[UUID], now: dt.datetime) -> None:
    """From the second time that a commitment is carried past its date, ask its owner what to do with it."""
    # Asked by itself: mostly there is none, and the count below then reads every open commitment for nothing.
    here = list(
        Carry.objects.counted().filter(from_meeting__in=meetings).values_list("commitment", flat=True)
    )
    if not here:
        return
    past = Q(carries__cause=Carry.Cause.CLOSED, carries__date_then__lt=F("carries__from_meeting__held_on"))
    again = (
        Commitment.objects.open()
        .filter(pk__in=here, owner__isnull=False, confirmed_at__isnull=False)
        .annotate(times=Count("carries", filter=past))
        .filter(times__gte=ASKED_FROM)
        .values_list("pk", "owner", "line", "times", "current_date")
    )
    notices.owe_all(
        [
            Notice(
                kind=Notice.Kind.CHOICE,
                person_id=owner,
                subject=pk,
                occurrence=f"carried {times} {date.isoformat()}",
                line_id=line,
                commitment_id=pk,
                owed_at=now,
            )
            for pk, owner, line, times, date in again
        ]
    )


def _within_the_batch(meetings: Sequence[Meeting]) -> Iterator[UUID]:
    of_lines = Commitment.objects.filter(
        line__in={meeting.line_id for meeting in meetings}, state=Commitment.State.OPEN
    )
    number = dict(of_lines.order_by().values_list("line").annotate(Count("pk")))
    room = MOST_COMMITMENTS
    for place, meeting in enumerate(meetings):
        room -= number.get(meeting.line_id, 0)
        if room < 0 and place > 0:
            return
        yield meeting.pk


def _parameters(ids: list[UUID], now: dt.datetime) -> list[Any]:
    if connection.vendor == "postgresql":
        return [now, ids, now]
    at = connection.ops.adapt_datetimefield_value(now)
    return [at, json.dumps([pk.hex for pk in ids]), at]


@transaction.atomic
def recount(*, meeting: Meeting, now: dt.datetime) -> int:
    """Count the carries of a given-up meeting that turned out to be held like those of a closed one.

    Returns how many changed. Does nothing if the job has not carried the commitments yet.
    """
    if meeting.state != Meeting.State.CLOSED or meeting.carried_at is None:
        return 0
    changed = (
        Carry.objects.filter(from_meeting=meeting)
        .exclude(cause=Carry.Cause.CLOSED)
        .update(cause=Carry.Cause.CLOSED)
    )
    third_time.ask(meetings=[meeting.pk], now=now)
    return changed
