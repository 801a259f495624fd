"""Entries of the logbook: kept, changed, refused, brought, taken back; sealed all the time."""

from __future__ import annotations

import datetime as dt
from typing import Any
from uuid import uuid4

import pytest

from accounts.models import Person
from oneonone.models import Line, LogbookEntry, Meeting, Topic
from oneonone.selectors.private import logbook as selector
from oneonone.services.agenda import bringing, issuing
from oneonone.services.agenda.topics import Wording
from oneonone.services.private import logbook
from oneonone.services.refusals import NotNow, OutOfRange, Stale, TooLong
from tests.cast import spoilt

TODAY = dt.date(2026, 11, 25)
LINE = "Ticket-gate pilot: queues down by a third"


def made(person: Person, now: dt.datetime, line: str = LINE, **more: Any) -> LogbookEntry:
    facts: dict[str, Any] = {"kind": "achievement", "event_on": dt.date(2026, 11, 18)} | more
    return logbook.add(line=line, actor=person, now=now, today=TODAY, **facts)


def test_an_entry_keeps_its_line_its_day_and_its_details(report: Person, now: dt.datetime) -> None:
    made(report, now, details={"worth": "40 people an hour", "intended": "of another kind"})
    (kept,) = selector.entries(report)
    assert kept.content is not None
    assert (kept.content.line, kept.event_on, kept.created_on) == (LINE, dt.date(2026, 11, 18), TODAY)
    assert kept.content.details == {"worth": "40 people an hour"}


def test_nothing_of_it_stands_in_its_row_in_plain(report: Person, now: dt.datetime) -> None:
    entry = made(report, now)
    assert b"Ticket" not in bytes(entry.blob)


def test_nobody_else_reads_it(report: Person, manager: Person, now: dt.datetime) -> None:
    entry = made(report, now)
    assert selector.entries(manager) == []
    assert selector.entry(manager, entry.pk) is None


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        ({"event_on": dt.date(2026, 11, 26)}, "event_on"),
        ({"event_on": dt.date(1969, 12, 31)}, "event_on"),
        ({"kind": "score"}, "kind"),
        ({"details": {"evidence": "the green folder"}}, "evidence"),
        ({"details": {"evidence": "javascript:alert(1)"}}, "evidence"),
        ({"kind": "obstacle", "details": {"in_the_way": "weather"}}, "in_the_way"),
    ],
)
def test_what_cannot_be_kept_is_refused_at_its_field(
    report: Person, now: dt.datetime, facts: dict[str, Any], field: str
) -> None:
    with pytest.raises(OutOfRange) as refusal:
        made(report, now, **facts)
    assert refusal.value.field == field
    assert not LogbookEntry.objects.of(report).exists()


def test_a_line_that_is_too_long_is_refused(report: Person, now: dt.datetime) -> None:
    with pytest.raises(TooLong):
        made(report, now, "x" * 201)
    made(report, now, "x" * 200)


def test_sent_twice_it_is_kept_once(report: Person, now: dt.datetime) -> None:
    key = uuid4()
    assert made(report, now, client_key=key) == made(report, now, client_key=key)
    assert LogbookEntry.objects.of(report).count() == 1


def test_an_edit_on_an_older_revision_is_refused_with_the_line_as_it_is(
    report: Person, now: dt.datetime
) -> None:
    entry = made(report, now)
    change: dict[str, Any] = {
        "entry": entry,
        "kind": "idea",
        "event_on": TODAY,
        "details": {},
        "actor": report,
    }
    logbook.edit(line="First window", revision=1, now=now, today=TODAY, **change)
    with pytest.raises(Stale) as refusal:
        logbook.edit(line="Second window", revision=1, now=now, today=TODAY, **change)
    assert refusal.value.theirs == {"line": "First window"}


def test_an_entry_that_cannot_be_opened_is_shown_and_never_written_over(
    report: Person, now: dt.datetime
) -> None:
    entry = made(report, now)
    LogbookEntry.objects.of(report).update(blob=spoilt(entry.blob))
    (shown,) = selector.entries(report)
    assert shown.content is None
    with pytest.raises(NotNow):
        logbook.edit(
            entry=entry,
            kind="idea",
            line="Over it",
            event_on=TODAY,
            details={},
            revision=1,
            actor=report,
            now=now,
            today=TODAY,
        )


def brought(entry: LogbookEntry, line: Line, person: Person, now: dt.datetime, **more: Any) -> Topic:
    wording = Wording(title="Ticket-gate pilot", kind=Topic.Kind.ACHIEVEMENT)
    return bringing.bring(
        entry=entry,
        line=line,
        wording=wording,
        actor=person,
        now=now,
        today=TODAY,
        **more,
    )


def fate_of(person: Person, entry: LogbookEntry) -> selector.Fate | None:
    found = selector.entry(person, entry.pk)
    assert found is not None
    return found.fate


def test_only_what_the_confirmation_says_becomes_shared(
    line: Line, meeting: Meeting, report: Person, now: dt.datetime
) -> None:
    entry = made(report, now, details={"learned": "Sign the lane before the corner."})
    topic = brought(entry, line, report, now)
    assert (topic.title, topic.detail, topic.kind) == ("Ticket-gate pilot", "", "achievement")
    fate = fate_of(report, entry)
    assert fate is not None
    assert (fate.state, fate.meeting, fate.topic) == ("placed", meeting, topic)


def test_brought_twice_with_one_key_is_one_topic_and_without_is_refused(
    line: Line, report: Person, now: dt.datetime
) -> None:
    entry, key = made(report, now), uuid4()
    topic = brought(entry, line, report, now, client_key=key)
    assert brought(entry, line, report, now, client_key=key) == topic
    with pytest.raises(NotNow):
        brought(entry, line, report, now)
    assert Topic.objects.filter(line=line).count() == 1


def test_it_is_taken_back_until_the_order_is_issued(
    line: Line, meeting: Meeting, report: Person, manager: Person, now: dt.datetime
) -> None:
    entry = made(report, now)
    topic = brought(entry, line, report, now)
    bringing.take_back(entry=entry, actor=report, now=now)
    topic.refresh_from_db()
    assert topic.state == Topic.State.WITHDRAWN
    brought(entry, line, report, now)
    issuing.issue(meeting=meeting, actor=manager, now=now)
    with pytest.raises(NotNow):
        bringing.take_back(entry=entry, actor=report, now=now)


def test_left_for_a_meeting_it_can_still_be_brought(
    line: Line, meeting: Meeting, report: Person, now: dt.datetime
) -> None:
    entry = made(report, now)
    bringing.leave(entry=entry, meeting=meeting, actor=report, now=now, today=TODAY)
    left = fate_of(report, entry)
    assert left is not None
    assert left.state == "left"
    brought(entry, line, report, now)
    placed = fate_of(report, entry)
    assert placed is not None
    assert placed.state == "placed"
