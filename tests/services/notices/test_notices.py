"""What is owed is said once; what is read or overtaken is not said any more."""

from __future__ import annotations

import datetime as dt
from uuid import uuid4

import pytest

from accounts.models import Person
from oneonone.models import Line, Meeting, Notice
from oneonone.services.notices import notices
from oneonone.services.refusals import NotAllowed
from tests.scene import AFTER

pytestmark = pytest.mark.django_db


def owe(person: Person, now: dt.datetime, **changes: object) -> Notice:
    values: dict[str, object] = {"kind": "joined", "person": person, "subject": uuid4(), "now": now}
    return notices.owe(**{**values, **changes})  # type: ignore[arg-type]


def test_owed_twice_it_is_one_notice_with_its_first_date(manager: Person, now: dt.datetime) -> None:
    subject = uuid4()
    first = owe(manager, now, subject=subject)
    again = owe(manager, AFTER, subject=subject, at_once=True)
    assert again == first
    assert (again.owed_at, again.at_once) == (now, False)
    assert Notice.objects.count() == 1


@pytest.mark.parametrize("change", [{"kind": "line_ended"}, {"occurrence": "2"}, {"schedule_version": 2}])
def test_another_kind_time_or_version_is_another_notice(
    manager: Person, now: dt.datetime, change: dict[str, object]
) -> None:
    subject = uuid4()
    owe(manager, now, subject=subject)
    owe(manager, now, subject=subject, **change)
    assert Notice.objects.count() == 2


def test_it_may_be_owed_ahead_but_never_before_now(manager: Person, now: dt.datetime) -> None:
    assert owe(manager, now, owed_at=AFTER).owed_at == AFTER
    assert owe(manager, AFTER, owed_at=now).owed_at == AFTER


def test_read_twice_the_first_time_stays_and_nobody_reads_for_another(
    manager: Person, report: Person, now: dt.datetime
) -> None:
    notice = owe(manager, now)
    with pytest.raises(NotAllowed):
        notices.mark_read(notice=notice, actor=report, now=now)
    notices.mark_read(notice=notice, actor=manager, now=now)
    notices.mark_read(notice=notice, actor=manager, now=AFTER)
    assert notice.read_at == now


def test_all_at_once_are_ones_own_and_those_that_are_shown(
    manager: Person, report: Person, now: dt.datetime
) -> None:
    mine, ahead, other = owe(manager, now), owe(manager, now, owed_at=AFTER), owe(report, now)
    assert notices.mark_all_read(actor=manager, now=now) == 1
    for notice in (mine, ahead, other):
        notice.refresh_from_db()
    assert (mine.read_at, ahead.read_at, other.read_at) == (now, None, None)


@pytest.mark.parametrize("kind", ["proposal", "offered", "unanswered", "left_open", "third_time"])
def test_a_question_is_not_answered_by_marking_everything_as_read(
    kind: str, manager: Person, now: dt.datetime
) -> None:
    question = owe(manager, now, kind=kind)
    assert notices.mark_all_read(actor=manager, now=now) == 0
    question.refresh_from_db()
    assert question.read_at is None


def test_cancelled_for_all_or_for_one_and_what_was_read_stays(
    manager: Person, report: Person, now: dt.datetime
) -> None:
    subject = uuid4()
    for person in (manager, report):
        owe(person, now, subject=subject)
    assert notices.cancel(kind="joined", subject=subject, person=report, now=now) == 1
    notices.mark_read(notice=Notice.objects.get(person=manager), actor=manager, now=now)
    assert notices.cancel(kind="joined", subject=subject, now=now) == 0
    assert Notice.objects.filter(cancelled_at__isnull=False).count() == 1


@pytest.mark.parametrize(("hours_before", "soon"), [(72, False), (48, True), (1, True)])
def test_soon_is_within_two_days_of_a_coming_meeting(meeting: Meeting, hours_before: int, soon: bool) -> None:
    now = meeting.starts_at - dt.timedelta(hours=hours_before)
    assert notices.is_soon(meeting=meeting, now=now) is soon
    meeting.state = Meeting.State.CALLED_OFF
    assert not notices.is_soon(meeting=meeting, now=now)
    assert not notices.is_soon(meeting=None, now=now)


def test_a_notice_shows_no_words_where_it_is_logged(line: Line, manager: Person, now: dt.datetime) -> None:
    notice = owe(manager, now, line=line)
    assert f"{notice} {notice!r}" == f"Notice {notice.pk} Notice {notice.pk}"
