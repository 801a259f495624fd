"""When the time zone database changes, what was agreed for ten o'clock stays at ten o'clock.

The two versions of the database are two folders: one is the machine's own, in the other London has the rules
of Lagos, an hour ahead of UTC all year, as if summer time had been made to stay.
"""

from __future__ import annotations

import datetime as dt
import zoneinfo
from collections.abc import Callable, Iterator
from dataclasses import replace
from importlib import resources
from pathlib import Path

import pytest

from accounts.models import Person
from oneonone.models import Line, Meeting, Notice, ZoneRules
from oneonone.selectors.dates import line_calendar
from oneonone.services.meetings import meetings
from oneonone.services.upkeep import clock_changes
from tests.scene import QUARTERLY, coming_of, make_line

UTC = dt.UTC
TEN_MINUTES = dt.timedelta(minutes=10)
TZPATH = zoneinfo.TZPATH
Switch = Callable[[], None]


@pytest.fixture
def summer_time_stays(tmp_path: Path) -> Iterator[Switch]:
    """Put the other version of the database in place, as an upgrade and a restart do."""

    def switch() -> None:
        lagos = resources.files("tzdata.zoneinfo").joinpath("Africa", "Lagos").read_bytes()
        (tmp_path / "Europe").mkdir()
        (tmp_path / "Europe" / "London").write_bytes(lagos)
        zoneinfo.reset_tzpath(to=[tmp_path])
        zoneinfo.ZoneInfo.clear_cache()

    yield switch
    zoneinfo.reset_tzpath(to=TZPATH)
    zoneinfo.ZoneInfo.clear_cache()


def run(now: dt.datetime) -> int:
    return sum(1 for _done in clock_changes.CLOCKS.each(now, most=200))


def test_the_agreed_local_time_stays_and_both_are_told_once(
    meeting: Meeting, manager: Person, report: Person, now: dt.datetime, summer_time_stays: Switch
) -> None:
    assert meeting.starts_at == dt.datetime(2026, 12, 3, 10, 0, tzinfo=UTC)
    assert clock_changes.learn(now) == 1
    sequence, version = meeting.calendar_sequence, meeting.schedule_version
    summer_time_stays()
    later = now + TEN_MINUTES
    assert run(later) == 1
    meeting.refresh_from_db()
    assert meeting.starts_at == dt.datetime(2026, 12, 3, 9, 0, tzinfo=UTC)
    assert meeting.issue_at == dt.datetime(2026, 11, 30, 11, 0, tzinfo=UTC)
    assert (meeting.calendar_sequence, meeting.schedule_version) == (sequence + 1, version + 1)
    told = Notice.objects.filter(kind=Notice.Kind.CLOCKS)
    assert {notice.person for notice in told} == {manager, report}
    for again in (later, later + TEN_MINUTES, later + 2 * TEN_MINUTES):
        run(again)
    before = meeting.starts_at
    meeting.refresh_from_db()
    assert (meeting.starts_at, meeting.calendar_sequence) == (before, sequence + 1)
    assert told.count() == 2


def test_without_a_change_nothing_is_touched(meeting: Meeting, now: dt.datetime) -> None:
    clock_changes.learn(now)
    assert (run(now), run(now + TEN_MINUTES), run(now + TEN_MINUTES)) == (0, 1, 0)
    seq = meeting.seq
    meeting.refresh_from_db()
    assert meeting.seq == seq
    assert Notice.objects.count() == 0


def test_extra_meetings_and_steps_that_have_fired(
    line: Line, meeting: Meeting, manager: Person, now: dt.datetime, summer_time_stays: Switch
) -> None:
    meetings.invite(meeting=meeting, actor=manager, words="", now=now)
    extra = meetings.extra(
        line=line, day=dt.date(2026, 12, 10), time=dt.time(15, 30), minutes=30, actor=manager, now=now
    )
    clock_changes.learn(now)
    invited = meeting.invite_at
    summer_time_stays()
    run(now + TEN_MINUTES)
    for one in (meeting, extra):
        one.refresh_from_db()
    assert meeting.invite_at == invited
    assert extra.starts_at == dt.datetime(2026, 12, 10, 14, 30, tzinfo=UTC)


def test_meetings_of_other_zones_and_past_ones_stay(
    line: Line,
    meeting: Meeting,
    other_manager: Person,
    other_report: Person,
    now: dt.datetime,
    summer_time_stays: Switch,
) -> None:
    elsewhere = coming_of(
        make_line(other_manager, other_report, terms=replace(QUARTERLY, zone="Europe/Oslo"))
    )
    assert clock_changes.learn(now) == 2
    summer_time_stays()
    assert run(meeting.starts_at + TEN_MINUTES) == 2
    before = [one.starts_at for one in (meeting, elsewhere)]
    for one in (meeting, elsewhere):
        one.refresh_from_db()
    assert [one.starts_at for one in (meeting, elsewhere)] == before


def test_rules_that_were_kept_by_an_older_version_count(meeting: Meeting, now: dt.datetime) -> None:
    """The rule set that is kept says that London is two hours ahead; its 10:00 UTC was agreed as 12:00."""
    clock_changes.learn(now)
    ZoneRules.objects.update(offset_minutes=120, changes=[])
    run(now + TEN_MINUTES)
    meeting.refresh_from_db()
    assert meeting.starts_at == dt.datetime(2026, 12, 3, 12, 0, tzinfo=UTC)
    assert line_calendar.local_day(meeting.starts_at, meeting.zone) == dt.date(2026, 12, 3)


def test_who_comes_second_changes_nothing(meeting: Meeting, now: dt.datetime) -> None:
    clock_changes.learn(now)
    ZoneRules.objects.update(offset_minutes=120, changes=[])
    stale = ZoneRules.objects.get()
    clock_changes.look(ZoneRules.objects.get(), now)
    meeting.refresh_from_db()
    once = meeting.starts_at
    clock_changes.look(stale, now)
    meeting.refresh_from_db()
    assert meeting.starts_at == once
