"""The cast and its scene hold what their docstrings say."""

from __future__ import annotations

import datetime as dt

import pytest
from django.http import HttpResponse

from accounts.models import Person
from oneonone import clock
from oneonone.models import Commitment, Line, Meeting, Side
from tests.cast import ClientFor, assert_not_sees, assert_same_bytes, assert_sees, queries
from tests.scene import AFTER, Brought, TakenOn, coming_of, placement_of


def test_the_coming_meeting_is_on_thursday_3_december_at_ten_in_london(meeting: Meeting) -> None:
    assert meeting.starts_at == dt.datetime(2026, 12, 3, 10, 0, tzinfo=dt.UTC)
    assert (meeting.state, meeting.minutes, meeting.zone) == ("planned", 50, "Europe/London")


def test_topics_of_both_sides_lie_on_the_coming_meeting(meeting: Meeting, brought: Brought) -> None:
    assert {placement_of(topic).meeting_id for topic in vars(brought).values()} == {meeting.pk}


def test_a_transfer_leaves_an_ended_line(former_line: Line, line: Line, report: Person) -> None:
    assert former_line.ends_on == dt.date(2026, 10, 30)
    assert {former_line.side_of(report), line.side_of(report)} == {Side.REPORT}


def test_the_closed_meeting_has_a_record_and_three_commitments(
    closed_meeting: Meeting, taken_on: TakenOn, brought: Brought
) -> None:
    assert closed_meeting.state == Meeting.State.CLOSED
    assert closed_meeting.held_on == dt.date(2026, 12, 3)
    assert closed_meeting.record_lines.count() == 5
    assert [Commitment.objects.get(pk=row.pk).is_offered for row in vars(taken_on).values()] == [
        False,
        False,
        True,
    ]
    following = coming_of(closed_meeting.line)
    assert placement_of(brought.licence).meeting_id == following.pk
    assert clock.now() == AFTER


def test_a_browser_of_the_cast_is_signed_in_without_a_password(
    client_for: ClientFor, manager: Person
) -> None:
    client = client_for(manager)
    assert client.session["_auth_user_id"] == str(manager.pk)


def test_what_escaping_changes_is_still_seen_and_still_found_where_it_must_not_be() -> None:
    page = HttpResponse("<p>Crane &amp; pontoon</p>")
    assert_sees(page, "Crane & pontoon")
    assert_not_sees(page, "Pontoon crew")
    with pytest.raises(AssertionError):
        assert_not_sees(page, "Crane & pontoon")
    with pytest.raises(AssertionError):
        assert_sees(HttpResponse("Crane", status=404), "Crane")


def test_answers_that_differ_in_a_header_can_be_told_apart() -> None:
    assert_same_bytes(HttpResponse("x", status=404), HttpResponse("x", status=404))
    with pytest.raises(AssertionError):
        assert_same_bytes(HttpResponse("x"), HttpResponse("x", headers={"X-Row": "1"}))


@pytest.mark.django_db
def test_queries_are_counted_inside_only(manager: Person) -> None:
    with queries() as made:
        list(Person.objects.all())
    list(Person.objects.all())
    assert len(made) == 1
