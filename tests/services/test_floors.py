"""The least share of the time that each side sets for itself, kept only once both have."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction

import pytest

from accounts.models import Person
from oneonone.models import Line, Meeting
from oneonone.planner import Plan
from oneonone.selectors import plan
from oneonone.services import floors
from oneonone.services.refusals import NotNow, OutOfRange
from tests.scene import make_topic


def test_a_share_is_kept_only_once_both_have_set_one(
    line: Line, meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    floors.set_floor(line=line, percent=40, actor=report, now=now)
    assert plan.sheet(Meeting.objects.get(pk=meeting.pk)).frame.floors is None
    floors.set_floor(line=line, percent=30, actor=manager, now=now)
    assert plan.sheet(Meeting.objects.get(pk=meeting.pk)).frame.floors == {
        "manager": Fraction(3, 10),
        "report": Fraction(2, 5),
    }
    floors.set_floor(line=line, percent=None, actor=report, now=now)
    assert plan.sheet(Meeting.objects.get(pk=meeting.pk)).frame.floors is None


def test_with_shares_one_side_no_longer_fills_the_meeting(
    line: Line, meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    for number in range(5):
        make_topic(line, manager, f"Quay {number}", minutes=10, importance="first")
    make_topic(line, report, "The roster", minutes=20, importance="if_time")
    before = plan.preview(meeting)[1]
    for actor in (manager, report):
        floors.set_floor(line=line, percent=40, actor=actor, now=now)
    after = plan.preview(Meeting.objects.get(pk=meeting.pk))[1]

    def reports_minutes(made: Plan) -> int:
        own = {str(row.pk) for row in meeting.placements.filter(topic__side="report")}
        return sum(slot.minutes for slot in made.slots if slot.key in own)

    total = sum(slot.minutes for slot in after.slots)
    assert reports_minutes(before) * 100 < 40 * sum(slot.minutes for slot in before.slots)
    assert reports_minutes(after) * 100 >= 40 * total


@pytest.mark.parametrize("percent", [0, 4, 51, 100])
def test_more_than_half_or_next_to_nothing_is_refused(
    percent: int, line: Line, report: Person, now: dt.datetime
) -> None:
    with pytest.raises(OutOfRange) as refusal:
        floors.set_floor(line=line, percent=percent, actor=report, now=now)
    assert refusal.value.field == "percent"


def test_nobody_sets_a_share_on_a_line_that_is_not_theirs(
    line: Line, outsider: Person, now: dt.datetime
) -> None:
    with pytest.raises(NotNow):
        floors.set_floor(line=line, percent=40, actor=outsider, now=now)
