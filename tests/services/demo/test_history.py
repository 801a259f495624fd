"""How topics have run in the demo: counted and boxed by the rules that hold on every server."""

from __future__ import annotations

import datetime as dt

from oneonone.models import KindFactor, Line, Meeting, Order, Placement, Topic
from oneonone.selectors.agenda import duration_history, orders
from oneonone.services.agenda import duration_history as counting


def line_of_today() -> Line:
    line: Line = Line.objects.get(manager__name="Ines Okafor", report__name="Tomas Lindqvist")
    return line


def order_of_today() -> Order:
    order = orders.latest(line_of_today().meetings.get(state=Meeting.State.ISSUED))
    assert order is not None
    return order


def lengths(order: Order) -> list[tuple[str, int, str]]:
    titles = {str(one.pk): one.topic.title for one in Placement.objects.select_related("topic")}
    return [
        (titles[slot["key"]], slot["end"] - slot["start"], slot["length"]["code"])
        for slot in order.plan["slots"]
    ]


def test_the_first_line_one_opens_boxes_an_obstacle_by_how_obstacles_have_run(company: dt.datetime) -> None:
    order = order_of_today()
    found = {title: (minutes, code) for title, minutes, code in lengths(order)}
    # Asked 10, which are 13 here; it is first and keeps four fifths at least, and the agenda is full.
    assert found["Winter timetable: two crews short on the early boat"] == (12, "history_trimmed")
    assert order.factors == {"obstacle": 130}


def test_the_lines_of_the_demo_have_the_history_that_a_factor_of_the_server_asks_for(
    company: dt.datetime,
) -> None:
    behind = {row.kind: row.lines for row in KindFactor.objects.all()}
    assert behind[Topic.Kind.OBSTACLE] == 12
    assert Topic.Kind.GROWTH not in behind
    lines = [
        line for line in Line.objects.all() if Topic.Kind.OBSTACLE in duration_history.of_line(line).kinds
    ]
    # The line of today has told nothing yet when the factors were counted.
    assert len(lines) == 13
    assert line_of_today() in lines


def test_lines_differ_in_how_their_topics_run(company: dt.datetime) -> None:
    found = [duration_history.of_line(line).kinds for line in Line.objects.all()]
    assert len({kinds[Topic.Kind.OBSTACLE].factor for kinds in found if Topic.Kind.OBSTACLE in kinds}) >= 4
    assert any(kinds[Topic.Kind.UPDATE].factor < 1 for kinds in found if Topic.Kind.UPDATE in kinds)


def test_with_fewer_than_ten_lines_of_history_the_server_has_no_factor(company: dt.datetime) -> None:
    """The same rows, three lines fewer: the rule is the server's and nothing the demo puts there."""
    without = Line.objects.filter(report__name__in=("Ola Brandt", "Ewan Sato", "Mei Castellan"))
    without.update(report_uses_history=False)
    KindFactor.objects.all().delete()
    counting.count(now=company)
    assert KindFactor.objects.get(kind=Topic.Kind.OBSTACLE).lines == 10
    Line.objects.filter(report__name="Priya Nair").update(report_uses_history=False)
    KindFactor.objects.all().delete()
    counting.count(now=company)
    assert not KindFactor.objects.filter(kind=Topic.Kind.OBSTACLE).exists()


def test_topics_of_the_past_were_discussed_one_after_the_other_inside_their_meeting(
    company: dt.datetime,
) -> None:
    heard = Placement.objects.filter(meeting__state=Meeting.State.CLOSED, began_at__isnull=False)
    by_meeting: dict[object, list[Placement]] = {}
    for placement in heard.select_related("meeting").order_by("began_at"):
        by_meeting.setdefault(placement.meeting_id, []).append(placement)
    assert len(by_meeting) > 100
    for placements in by_meeting.values():
        meeting = placements[0].meeting
        assert meeting.began_at is not None
        assert meeting.ended_at is not None
        ends = [meeting.began_at, *(one.ended_at for one in placements), meeting.ended_at]
        begins = [one.began_at for one in placements]
        assert all(end is not None and begin >= end for end, begin in zip(ends, begins, strict=False))  # type: ignore[operator]
        assert ends == sorted(end for end in ends if end is not None)
