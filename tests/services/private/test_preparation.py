"""What a person has read of a meeting: kept for them alone, and only ever further on."""

from __future__ import annotations

import datetime as dt

import pytest

from accounts.models import Person
from oneonone.models import Meeting, Preparation
from oneonone.selectors.private import preparation as selector
from oneonone.services.agenda import placement_by_hand
from oneonone.services.private import preparation
from oneonone.services.refusals import NotAllowed, NotNow, OutOfRange
from tests.cast import spoilt
from tests.scene import Brought, placement_of


def mark(meeting: Meeting, number: int, actor: Person, now: dt.datetime) -> Preparation:
    return preparation.mark_read(meeting=meeting, number=number, actor=actor, now=now, today=now.date())


def test_each_side_has_read_for_itself(
    issued_meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    mark(issued_meeting, 1, report, now)
    assert selector.order_read(report, issued_meeting) == 1
    assert selector.order_read(manager, issued_meeting) is None


def test_a_newer_number_replaces_an_older_one_and_never_the_other_way(
    issued_meeting: Meeting, brought: Brought, report: Person, now: dt.datetime
) -> None:
    placement_by_hand.move(placement=placement_of(brought.licence), places=-1, actor=report, now=now)
    mark(issued_meeting, 1, report, now)
    mark(issued_meeting, 2, report, now)
    kept = mark(issued_meeting, 1, report, now)
    assert selector.order_read(report, issued_meeting) == 2
    assert kept.revision == 2
    assert Preparation.objects.of(report).count() == 1


def test_marked_twice_it_is_written_once(issued_meeting: Meeting, report: Person, now: dt.datetime) -> None:
    first = mark(issued_meeting, 1, report, now)
    assert mark(issued_meeting, 1, report, now).revision == first.revision == 1


@pytest.mark.parametrize("number", [0, 2, -1])
def test_an_order_that_is_not_there_is_refused(
    number: int, issued_meeting: Meeting, report: Person, now: dt.datetime
) -> None:
    with pytest.raises(OutOfRange):
        mark(issued_meeting, number, report, now)
    assert not Preparation.objects.of(report).exists()


def test_nobody_else_marks_anything(issued_meeting: Meeting, outsider: Person, now: dt.datetime) -> None:
    with pytest.raises(NotAllowed):
        mark(issued_meeting, 1, outsider, now)


def test_a_row_that_cannot_be_opened_is_not_written_over(
    issued_meeting: Meeting, brought: Brought, report: Person, now: dt.datetime
) -> None:
    row = mark(issued_meeting, 1, report, now)
    Preparation.objects.of(report).update(blob=spoilt(row.blob))
    placement_by_hand.move(placement=placement_of(brought.licence), places=-1, actor=report, now=now)
    with pytest.raises(NotNow):
        mark(issued_meeting, 2, report, now)
    assert bytes(Preparation.objects.of(report).get().blob) == spoilt(row.blob)
    assert selector.order_read(report, issued_meeting) is None
