"""The third time a topic is not reached both are asked on the page whether to drop it, and say so at once."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from accounts.models import Person
from oneonone import clock
from oneonone.models import Line, Notice, Topic
from oneonone.services.agenda import topics
from oneonone.services.commitments import commitment_jobs
from oneonone.services.meetings import meetings
from tests.cast import ClientFor, assert_not_sees, assert_sees, queries
from tests.scene import coming_of, make_topic, placement_of

QUESTION = "“Crane slot” was on three agendas and not reached. Drop it?"


def pass_over(line: Line, actor: Person, times: int) -> None:
    """Hold so many meetings in which nothing is reached; the clock stands after the last."""
    for _time in range(times):
        meeting = coming_of(line)
        meetings.start(meeting=meeting, actor=actor, now=meeting.starts_at)
        closed = meeting.starts_at + dt.timedelta(minutes=40)
        meetings.close(meeting=meeting, actor=actor, now=closed)
        while commitment_jobs.CARRY.do_one(closed):
            pass
        clock.hold_at(closed + dt.timedelta(hours=1))


@pytest.fixture
def passed_over(line: Line, report: Person, manager: Person, held_clock: dt.datetime) -> Topic:
    """A topic of Tomas's that three held meetings have not reached."""
    topic = make_topic(line, report, "Crane slot")
    pass_over(line, manager, 3)
    return topic


def pages(topic: Topic) -> list[str]:
    meeting = coming_of(topic.line)
    return [reverse("meeting", args=[meeting.pk]), reverse("line", args=[topic.line_id])]


def test_twice_nobody_is_asked(line: Line, report: Person, manager: Person, client_for: ClientFor) -> None:
    topic = make_topic(line, report, "Crane slot")
    client = client_for(report)
    pass_over(line, manager, 2)
    for page in pages(topic):
        assert_not_sees(client.get(page), "Not reached three times")


def test_the_third_time_both_are_asked_on_the_agenda_and_on_the_line(
    passed_over: Topic, report: Person, manager: Person, client_for: ClientFor
) -> None:
    asked_at = clock.now()
    for person in (report, manager):
        client = client_for(person)
        clock.hold_at(asked_at)
        for page in pages(passed_over):
            assert_sees(client.get(page), QUESTION)


@pytest.mark.parametrize("whose", ["report", "manager"])
def test_kept_it_stays_and_only_the_one_who_answered_is_asked_no_more(
    passed_over: Topic, whose: str, report: Person, manager: Person, client_for: ClientFor
) -> None:
    asked_at = clock.now()
    one, other = (report, manager) if whose == "report" else (manager, report)
    client, client_of_other = client_for(one), client_for(other)
    clock.hold_at(asked_at)
    agenda = pages(passed_over)[0]
    said = client.post(
        reverse("topic-third-time", args=[passed_over.pk]), {"drop": "0", "next": agenda}, follow=True
    )
    assert_sees(said, "“Crane slot” is kept.")
    assert_not_sees(said, QUESTION)
    assert_sees(client_of_other.get(agenda), QUESTION)
    assert placement_of(passed_over).meeting == coming_of(passed_over.line)


def test_dropped_by_its_raiser_it_is_withdrawn_and_the_other_is_asked_no_more(
    passed_over: Topic, report: Person, manager: Person, client_for: ClientFor
) -> None:
    asked_at = clock.now()
    client, other = client_for(report), client_for(manager)
    clock.hold_at(asked_at)
    said = client.post(reverse("topic-third-time", args=[passed_over.pk]), {"drop": "1"}, follow=True)
    assert_sees(said, "“Crane slot” is withdrawn.")
    assert Topic.objects.get(pk=passed_over.pk).state == Topic.State.WITHDRAWN
    for page in pages(passed_over):
        assert_not_sees(other.get(page), QUESTION)


def test_dropped_by_the_other_side_it_is_parked_and_can_come_back(
    passed_over: Topic, report: Person, manager: Person, client_for: ClientFor
) -> None:
    asked_at = clock.now()
    client = client_for(manager)
    clock.hold_at(asked_at)
    said = client.post(reverse("topic-third-time", args=[passed_over.pk]), {"drop": "1"}, follow=True)
    assert_sees(said, "“Crane slot” is parked.")
    parked = Topic.objects.get(pk=passed_over.pk)
    assert parked.state == Topic.State.PARKED
    assert topics.unpark(topic=parked, actor=report, now=asked_at).state == Topic.State.OPEN


@pytest.mark.parametrize(
    ("sent", "said"),
    [({}, "Say whether to keep it"), ({"drop": "maybe"}, "Say whether to keep it")],
)
def test_no_clear_answer_is_asked_again(
    passed_over: Topic, sent: dict[str, str], said: str, report: Person, client_for: ClientFor
) -> None:
    asked_at = clock.now()
    client = client_for(report)
    clock.hold_at(asked_at)
    assert_sees(client.post(reverse("topic-third-time", args=[passed_over.pk]), sent, follow=True), said)
    assert Notice.objects.get(kind="third_time", person=report).read_at is None


def test_answered_twice_the_second_is_refused(
    passed_over: Topic, report: Person, client_for: ClientFor
) -> None:
    asked_at = clock.now()
    client = client_for(report)
    clock.hold_at(asked_at)
    where = reverse("topic-third-time", args=[passed_over.pk])
    client.post(where, {"drop": "0"})
    client.post(where, {"drop": "1"})
    assert Topic.objects.get(pk=passed_over.pk).state == Topic.State.OPEN


def test_what_the_other_side_must_discuss_stays_and_it_is_asked_again(
    passed_over: Topic, report: Person, manager: Person, client_for: ClientFor
) -> None:
    asked_at = clock.now()
    topics.set_must(placement=placement_of(passed_over), must=True, actor=report, now=asked_at)
    client = client_for(manager)
    clock.hold_at(asked_at)
    client.post(reverse("topic-third-time", args=[passed_over.pk]), {"drop": "1"})
    assert Topic.objects.get(pk=passed_over.pk).state == Topic.State.OPEN
    assert_sees(client.get(pages(passed_over)[0]), QUESTION)


def test_twice_as_many_asked_about_cost_no_more_queries(
    passed_over: Topic, line: Line, report: Person, manager: Person, client_for: ClientFor
) -> None:
    client = client_for(report)
    counted = []
    for _time in range(2):
        page = pages(passed_over)[0]
        client.get(page)
        with queries() as made:
            assert_sees(client.get(page), QUESTION)
        counted.append(len(made))
        for number in range(3):
            make_topic(line, report, f"Fender {number}", now=clock.now(), minutes=5)
        pass_over(line, manager, 3)
    assert counted[0] == counted[1]
