"""Busy times of one's own calendar: sealed, one's own, replaced by the next, and gone once they passed."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.db import connection

from accounts.models import Person
from oneonone.models import BusyTimes, BusyWeek, Unreadable
from oneonone.sealed import CannotOpen
from oneonone.selectors.private import busy_times as kept
from oneonone.selectors.private import keys
from oneonone.services.private import busy_times
from oneonone.services.upkeep import erasure, retention
from tests.cast import queries

UTC = dt.UTC


def at(day: int, hour: int, minute: int = 0, month: int = 12) -> dt.datetime:
    return dt.datetime(2026, month, day, hour, minute, tzinfo=UTC)


TWO = ((at(1, 10), at(1, 11)), (at(3, 9, 30), at(3, 12)))


def keep(person: Person, now: dt.datetime, *blocks: kept.Block) -> BusyTimes:
    return busy_times.replace(blocks=blocks or TWO, actor=person, now=now, today=now.date())


def test_what_is_kept_is_read_by_its_owner_alone(manager: Person, report: Person, now: dt.datetime) -> None:
    keep(manager, now)
    assert kept.of(manager, now=now) == TWO
    assert kept.of(report, now=now) == ()
    found = kept.kept(manager, now=now)
    assert found is not None
    assert (found.read_on, found.until, found.blocks) == (now.date(), dt.date(2027, 2, 21), TWO)
    assert kept.kept(report, now=now) is None


def test_rows_are_private_and_sealed_one_for_each_of_thirteen_weeks(
    manager: Person, report: Person, now: dt.datetime
) -> None:
    keep(manager, now)
    with pytest.raises(Unreadable):
        BusyWeek.objects.all()
    rows = list(BusyWeek.objects.of(manager).order_by("week"))
    assert [row.week for row in rows][:2] == [dt.date(2026, 11, 23), dt.date(2026, 11, 30)]
    assert len(rows) == 13
    assert {len(bytes(row.blob)) for row in rows} == {len(bytes(rows[0].blob))}
    with pytest.raises(CannotOpen):
        keys.open_for(report, rows[0])


def test_a_block_over_the_end_of_a_week_is_one_again_when_read(manager: Person, now: dt.datetime) -> None:
    """Sunday 6 December 22:00 to Monday 02:00 lies in two weeks."""
    keep(manager, now, (at(6, 22), at(7, 2)))
    assert kept.of(manager, now=now) == ((at(6, 22), at(7, 2)),)


def test_the_next_file_takes_the_place_of_all_and_removing_leaves_nothing(
    manager: Person, report: Person, now: dt.datetime
) -> None:
    keep(report, now)
    keep(manager, now)
    keep(manager, now, (at(8, 10), at(8, 11)))
    assert kept.of(manager, now=now) == ((at(8, 10), at(8, 11)),)
    busy_times.remove(actor=manager, now=now)
    busy_times.remove(actor=manager, now=now)
    assert (kept.of(manager, now=now), kept.kept(manager, now=now)) == ((), None)
    assert kept.of(report, now=now) == TWO


def test_what_has_passed_is_not_given_and_goes_with_its_week(manager: Person, now: dt.datetime) -> None:
    keep(manager, now)
    later = at(3, 12)
    assert kept.of(manager, now=later) == ()
    assert retention.sweep(at(6, 23)) == 1
    assert retention.sweep(at(6, 23)) == 0
    assert BusyWeek.objects.of(manager).order_by("week")[0].week == dt.date(2026, 11, 30)
    assert retention.sweep(dt.datetime(2027, 2, 22, tzinfo=UTC)) == 13
    assert (BusyWeek.objects.of(manager).count(), BusyTimes.objects.count()) == (0, 0)


def test_erasing_a_person_leaves_none(
    manager: Person, administrator: Person, now: dt.datetime, settings: Any, tmp_path: Path
) -> None:
    keep(manager, now)
    settings.ERASURE_LIST = tmp_path / "erasures.jsonl"
    erasure.erase(person=manager, actor=administrator, now=now)
    assert (BusyWeek.objects.of(manager).count(), BusyTimes.objects.count()) == (0, 0)


def test_a_row_put_in_from_elsewhere_is_told_as_unreadable(manager: Person, now: dt.datetime) -> None:
    keep(manager, now)
    BusyWeek.objects.of(manager).filter(week=dt.date(2026, 11, 30)).update(blob=b"x" * 300)
    found = kept.kept(manager, now=now)
    assert found is not None
    assert (found.cannot_open, found.blocks) == (True, ())


def test_reading_takes_two_queries_whatever_the_number(manager: Person, now: dt.datetime) -> None:
    keep(manager, now, *[(at(day, 9), at(day, 10)) for day in range(1, 29)])
    with queries() as made:
        assert len(kept.of(manager, now=now)) == 28
    # On PostgreSQL each private query also says who reads, and what was said before is put back.
    assert len(made) <= (2 if connection.vendor == "sqlite" else 6)


def test_begins_and_ends_stand_in_no_table_as_they_are(manager: Person, now: dt.datetime) -> None:
    keep(manager, now)
    minutes = str((TWO[1][0] - kept.EPOCH) // kept.MINUTE)
    found = []
    with connection.cursor() as cursor:
        for model in apps.get_models(include_auto_created=True):
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(model._meta.db_table)}")
            found += [repr(row) for row in cursor]
    assert not any(minutes in row or "2026-12-03" in row for row in found)
