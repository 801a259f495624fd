"""The page of proposed times, and taking one."""

from __future__ import annotations

import datetime as dt
from uuid import uuid4

import pytest
from django.urls import reverse

from accounts.models import Person
from oneonone.models import Line, Meeting
from oneonone.services.meetings import meetings
from tests.cast import ClientFor, assert_not_sees, assert_sees
from tests.scene import coming_of


def taking(day: str, time: str = "11:00") -> dict[str, str]:
    return {"client_key": str(uuid4()), "day": day, "time": time}


def test_each_line_that_is_owed_one_has_a_time_and_a_reason(
    line: Line, peer_line: Line, manager: Person, client_for: ClientFor
) -> None:
    page = client_for(manager).get(reverse("find-times"))
    assert_sees(page, "Tomas Lindqvist")
    assert_sees(page, "Maja Ferreira")
    assert_sees(page, "The agreed day and time.")
    assert_sees(page, "already planned for this time")
    assert_sees(page, "Take this time")


def test_taking_one_moves_the_planned_meeting_and_no_other(
    line: Line, peer_line: Line, manager: Person, client_for: ClientFor
) -> None:
    other = coming_of(peer_line).starts_at
    where = reverse("find-times-take", args=[line.pk])
    page = client_for(manager).post(where, taking("2026-12-03"), follow=True)
    assert_sees(page, "Planned for Thursday 3 December at 11:00.")
    assert coming_of(line).starts_at == dt.datetime(2026, 12, 3, 11, 0, tzinfo=dt.UTC)
    assert coming_of(peer_line).starts_at == other


def test_where_nothing_is_planned_a_meeting_is_made(
    line: Line, meeting: Meeting, manager: Person, now: dt.datetime, client_for: ClientFor
) -> None:
    meetings.call_off(meeting=meeting, actor=manager, now=now)
    Meeting.objects.exclude(pk=meeting.pk).delete()
    client_for(manager).post(reverse("find-times-take", args=[line.pk]), taking("2026-12-04"))
    made = coming_of(line)
    assert (made.is_extra, made.minutes) == (True, 50)
    assert made.starts_at == dt.datetime(2026, 12, 4, 11, 0, tzinfo=dt.UTC)


def test_a_time_that_has_passed_is_refused_in_words(
    line: Line, manager: Person, client_for: ClientFor
) -> None:
    where = reverse("find-times-take", args=[line.pk])
    assert_sees(client_for(manager).post(where, taking("2026-11-24"), follow=True), "That date has passed.")
    assert client_for(manager).post(where, {"day": "soon"}).status_code == 404


@pytest.mark.parametrize(
    ("who", "status"),
    [("report", 403), ("peer", 404), ("lead", 404), ("outsider", 404), ("administrator", 404)],
)
def test_only_the_manager_takes_a_time(
    who: str, status: int, line: Line, request: pytest.FixtureRequest, client_for: ClientFor
) -> None:
    client = client_for(request.getfixturevalue(who))
    assert client.post(reverse("find-times-take", args=[line.pk]), taking("2026-12-04")).status_code == status


def test_whoever_manages_nobody_owes_nothing(line: Line, report: Person, client_for: ClientFor) -> None:
    page = client_for(report).get(reverse("find-times"))
    assert_sees(page, "No one-on-one is due")
    assert_not_sees(page, "Ines Okafor")
