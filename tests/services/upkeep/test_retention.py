"""What is past its use goes, and what may still be asked for stays."""

from __future__ import annotations

import datetime as dt
from uuid import uuid4

import pytest

from accounts.models import Person
from oneonone.models import ClientKey, Deferral, Tick
from oneonone.services.upkeep import retention

pytestmark = pytest.mark.django_db


def test_old_slots_keys_and_deferrals_go_and_younger_ones_stay(manager: Person, now: dt.datetime) -> None:
    def ago(days: float) -> dt.datetime:
        return now - dt.timedelta(days=days)

    for days in (1.9, 2.1):
        Tick.objects.create(schedule="tick", due_at=ago(days))
    for days in (29, 31):
        ClientKey.objects.create(person=manager, key=uuid4(), act="topics.add", subject=uuid4(), at=ago(days))
    for days in (6, 8):
        Deferral.objects.create(job="invite", subject=uuid4(), until=ago(days))
    assert retention.sweep(now) == 3
    assert retention.sweep(now) == 0
    assert [Tick.objects.get().due_at, ClientKey.objects.get().at, Deferral.objects.get().until] == [
        ago(1.9),
        ago(29),
        ago(6),
    ]
