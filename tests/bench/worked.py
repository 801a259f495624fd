"""Two years of work behind an organisation of any size, as the jobs would have left it. On PostgreSQL.

``grow`` makes the lines and a year of meetings; here they get commitments, carries and notices, and the marks
of what the jobs have done, in a few statements of INSERT ... SELECT.
"""

from __future__ import annotations

import datetime as dt

from django.db import connection
from django.db.models import F

from oneonone.models import Line, Meeting, ZoneRules

COMMITMENTS_A_LINE = 10


def finish(now: dt.datetime) -> None:
    """Everything that is due has been done; what lies ahead lies at least three days ahead."""
    Meeting.objects.filter(state="planned").update(
        starts_at=now + dt.timedelta(days=20),
        invite_at=now + dt.timedelta(days=6),
        issue_at=now + dt.timedelta(days=17),
        is_next=True,
    )
    over = Meeting.objects.exclude(state="planned")
    over.update(carried_at=F("starts_at"), nudged_at=F("starts_at"), asked_version=F("schedule_version"))
    ZoneRules.objects.update(look_at=now + dt.timedelta(days=1))
    Line.objects.update(plan_at=None, standing_at=now + dt.timedelta(days=1))


def add_commitments(now: dt.datetime, *, number: int = COMMITMENTS_A_LINE) -> None:
    """Open commitments on every line."""
    with connection.cursor() as cursor:
        cursor.execute(
            """
            INSERT INTO oneonone_commitment (id, line_id, author_id, owner_id, owner_side, action,
                how_known, original_date, "current_date", state, forecast, confirmed_at, created_at,
                settled_cause, version)
            SELECT gen_random_uuid(), l.id, l.report_id, l.report_id, 'report', 'Check the pontoon', '',
                %s, %s, 'open', 'will_make', %s, %s, '', 1
            FROM oneonone_line l, generate_series(1, %s)
            WHERE NOT EXISTS (SELECT FROM oneonone_commitment c WHERE c.line_id = l.id)
            """,
            [now.date(), now.date(), now, now - dt.timedelta(days=900), number],
        )


def add_history(now: dt.datetime) -> None:
    """A carry of two commitments out of each meeting, and two notices about it, mailed and unread."""
    with connection.cursor() as cursor:
        cursor.execute(
            """
            INSERT INTO oneonone_carry
                (id, commitment_id, from_meeting_id, to_meeting_id, cause, date_then, at)
            SELECT gen_random_uuid(), c.id, m.id, NULL, 'closed', %s, m.starts_at
            FROM oneonone_meeting m
            JOIN LATERAL (SELECT id FROM oneonone_commitment WHERE line_id = m.line_id LIMIT 2) c ON true
            WHERE m.state <> 'planned'
            ON CONFLICT DO NOTHING
            """,
            [now.date()],
        )
        cursor.execute(
            """
            INSERT INTO oneonone_notice (id, kind, person_id, subject, schedule_version, occurrence, line_id,
                meeting_id, at_once, owed_at, mailed)
            SELECT gen_random_uuid(), k.kind, l.report_id, m.id, 1, '', l.id, m.id, false, m.starts_at, true
            FROM oneonone_meeting m JOIN oneonone_line l ON l.id = m.line_id
            CROSS JOIN (VALUES ('invite'), ('record')) AS k (kind)
            WHERE m.state <> 'planned'
            ON CONFLICT DO NOTHING
            """
        )
        cursor.execute("ANALYZE")
