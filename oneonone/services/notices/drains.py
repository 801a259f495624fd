"""One drain at a time: whoever rings while one is under way asks it to look once more.

The claim is a lease with a token. A drain that is killed is taken over when its lease has run out; one that
wakes up after that finds that the token is no longer its own.
"""

from __future__ import annotations

import datetime as dt
from uuid import UUID, uuid4

from django.db.models import Q

from oneonone.models import Drain

NAME = "jobs"
HOLDS = dt.timedelta(seconds=60)
RENEWED_EVERY_SECONDS = 10


def begin(now: dt.datetime) -> UUID | None:
    """The token of a new drain, or None when one is under way, which then looks once more."""
    token = uuid4()
    while True:
        row = Drain.objects.filter(name=NAME)
        free = Q(until__isnull=True) | Q(until__lte=now)
        if row.filter(free).update(token=token, until=now + HOLDS, again=False):
            return token
        if row.exclude(free).update(again=True):
            return None
        Drain.objects.get_or_create(name=NAME)


def renew(token: UUID, now: dt.datetime) -> None:
    """Hold the lease for longer; nothing happens where another drain has it."""
    Drain.objects.filter(name=NAME, token=token).update(until=now + HOLDS)


def end(token: UUID, now: dt.datetime) -> bool:
    """Give the lease back; False when somebody has rung meanwhile: then it is still held, to look again."""
    mine = Drain.objects.filter(name=NAME, token=token)
    if mine.filter(again=False).update(token=None, until=None):
        return True
    return not mine.update(again=False, until=now + HOLDS)


def give_up(token: UUID) -> None:
    """Give the lease back whatever was asked for meanwhile; the next tick looks."""
    Drain.objects.filter(name=NAME, token=token).update(token=None, until=None, again=False)
