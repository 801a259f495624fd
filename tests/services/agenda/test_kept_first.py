"""A topic that was kept comes before an equal new one, whatever else is on the agenda."""

from __future__ import annotations

import datetime as dt

from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from accounts.models import Person
from oneonone.models import Line, Order, Topic
from oneonone.services.agenda import importance, issuing
from oneonone.services.meetings import meetings
from tests.cast import make_person
from tests.scene import coming_of, make_line, make_topic, placement_of

KINDS, LEVELS = st.sampled_from(Topic.Kind.values), st.sampled_from(["in_turn", "if_time"])
OTHERS = st.lists(st.tuples(KINDS, LEVELS, st.integers(5, 25), st.booleans()), max_size=4)


def pass_over(line: Line, actor: Person) -> None:
    """Hold the coming meeting without reaching anything."""
    meeting = coming_of(line)
    meetings.start(meeting=meeting, actor=actor, now=meeting.starts_at)
    meetings.close(meeting=meeting, actor=actor, now=meeting.starts_at + dt.timedelta(minutes=40))


class TestKeptFirst(TestCase):
    @settings(max_examples=10, deadline=None)
    @given(
        kind=KINDS,
        raisers=LEVELS,
        others=LEVELS,
        minutes=st.integers(1, 41),
        times=st.integers(1, 5),
        managers=st.booleans(),
        beside=OTHERS,
    )
    def test_a_kept_topic_comes_before_an_equal_new_one(
        self,
        kind: str,
        raisers: str,
        others: str,
        minutes: int,
        times: int,
        managers: bool,
        beside: list[tuple[str, str, int, bool]],
    ) -> None:
        manager, report = make_person("Ines Okafor"), make_person("Tomas Lindqvist")
        line = make_line(manager, report)
        raiser, other = (manager, report) if managers else (report, manager)

        def bring(title: str) -> Topic:
            now = coming_of(line).starts_at - dt.timedelta(days=20)
            topic = make_topic(line, raiser, title, kind=kind, minutes=minutes, importance=raisers, now=now)
            return importance.set_importance(topic=topic, level=others, actor=other, now=now)

        kept = bring("Kept")
        for _time in range(times):
            pass_over(line, manager)
        new = bring("New")
        meeting = coming_of(line)
        now = meeting.starts_at - dt.timedelta(days=15)
        for n, (of_kind, level, length, mine) in enumerate(beside):
            person = manager if mine else report
            make_topic(line, person, f"T{n}", kind=of_kind, importance=level, minutes=length, now=now)
        order: Order = issuing.issue(meeting=coming_of(line), actor=manager, now=now)
        minutes_of = {slot["key"]: slot["end"] - slot["start"] for slot in order.plan["slots"]}
        keys = list(minutes_of)
        first, second = str(placement_of(kept).pk), str(placement_of(new).pk)
        if second in keys:
            assert first in keys
            # Worth more a minute, it is earlier; a minute more for it alone can turn that.
            if minutes_of[first] <= minutes_of[second] or times > 1:
                assert keys.index(first) < keys.index(second)
