"""One drain at a time: whoever rings meanwhile is heard once more, and a dead drain is taken over."""

from __future__ import annotations

import datetime as dt

import pytest

from oneonone.models import Drain
from oneonone.services.notices import drains

pytestmark = pytest.mark.django_db


def test_the_first_works_and_the_others_ask_it_to_look_once_more(now: dt.datetime) -> None:
    token = drains.begin(now)
    assert token is not None
    assert [drains.begin(now) for _ring in range(25)] == [None] * 25
    assert not drains.end(token, now), "rung meanwhile, it looks once more"
    assert drains.end(token, now)
    assert drains.begin(now) is not None


def test_a_drain_that_died_is_taken_over_once_its_lease_has_run_out(now: dt.datetime) -> None:
    dead = drains.begin(now)
    assert dead is not None
    assert drains.begin(now + drains.HOLDS - dt.timedelta(seconds=1)) is None
    later = now + drains.HOLDS
    living = drains.begin(later)
    assert living not in (None, dead)
    drains.renew(dead, later + drains.HOLDS)
    assert drains.end(dead, later), "it finds that the lease is no longer its own, and goes"
    assert Drain.objects.get().token == living


def test_one_that_is_at_work_for_long_keeps_its_lease(now: dt.datetime) -> None:
    token = drains.begin(now)
    assert token is not None
    drains.renew(token, now + drains.HOLDS / 2)
    assert drains.begin(now + drains.HOLDS) is None


def test_given_up_it_is_free_at_once_whoever_rang(now: dt.datetime) -> None:
    token = drains.begin(now)
    assert token is not None
    drains.begin(now)
    drains.give_up(token)
    assert drains.begin(now) is not None
