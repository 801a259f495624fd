"""What piles up and is needed no more: slots of the clock, keys of forms, busy times that have passed.

And what is counted once in a while, from rows that have piled up.
"""

from __future__ import annotations

import datetime as dt

from oneonone.models import ClientKey, Deferral, Tick
from oneonone.services.agenda import duration_history
from oneonone.services.private import busy_times

TICKS_KEPT = dt.timedelta(days=2)
KEYS_KEPT = dt.timedelta(days=30)
DEFERRALS_KEPT = dt.timedelta(days=7)


def sweep(now: dt.datetime) -> int:
    """Delete what is past its use; how many rows went. A form sent twice is told by its key for 30 days."""
    duration_history.count(now=now)
    gone = 0
    for rows in (
        Tick.objects.filter(due_at__lt=now - TICKS_KEPT),
        ClientKey.objects.filter(at__lt=now - KEYS_KEPT),
        Deferral.objects.filter(until__lt=now - DEFERRALS_KEPT),
    ):
        gone += rows.delete()[0]
    return gone + busy_times.forget_past(now)
