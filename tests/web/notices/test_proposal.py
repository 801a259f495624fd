"""Answers to what the other side proposes: a late topic, another interval."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from uuid import uuid4

from django.urls import reverse

from accounts.models import Person
from oneonone.models import Line, Meeting, Placement, Proposal
from oneonone.services.agenda import issuing, placing
from oneonone.services.meetings import intervals
from tests.cast import ClientFor, assert_not_sees, assert_sees, body_of
from tests.scene import QUARTERLY, coming_of, invite_report, make_topic
from tests.web.taking import take


def keys(meeting: Meeting) -> set[str]:
    order = meeting.orders.order_by("-number").first()
    assert order is not None
    return {slot["key"] for slot in order.plan["slots"]}


def test_a_yes_makes_room_for_a_late_topic(
    client_for: ClientFor,
    issued_meeting: Meeting,
    line: Line,
    manager: Person,
    report: Person,
    now: dt.datetime,
) -> None:
    late = make_topic(line, report, "A bell for the ticket desk", minutes=12, now=now)
    proposal = Proposal.objects.get()
    page, answer = (
        reverse("meeting", args=[issued_meeting.pk]),
        reverse("proposal-answer", args=[proposal.pk]),
    )
    client = client_for(manager)
    assert_sees(
        client.get(page),
        "Tomas asks for a place for “A bell for the ticket desk” (12 minutes), after the order was issued.",
    )
    placed = str(late.placements.get().pk)
    assert placed not in keys(issued_meeting)
    taken = take(client, answer, {"answer": "accept", "next": page})
    assert taken.headers["Location"] == f"{page}#topic-{late.pk}"
    assert placed in keys(issued_meeting)
    told = client.post(answer, {"answer": "accept", "next": page}, follow=True)
    assert_sees(told, "That cannot be done any more: it has changed in the meantime.")


def test_whoever_asked_for_room_takes_it_back_and_can_ask_again(
    client_for: ClientFor,
    issued_meeting: Meeting,
    line: Line,
    manager: Person,
    report: Person,
    now: dt.datetime,
) -> None:
    late = make_topic(line, report, "A bell for the ticket desk", minutes=12, now=now)
    page, mine, theirs = reverse("meeting", args=[issued_meeting.pk]), client_for(report), client_for(manager)
    withdraw = reverse("proposal-withdraw", args=[Proposal.objects.get().pk])
    assert withdraw in body_of(mine.get(page))
    assert withdraw not in body_of(theirs.get(page))
    told = mine.post(withdraw, {"next": page}, follow=True)
    assert_sees(told, "Taken back. Nothing changes.")
    assert_sees(told, "Both of you have to agree to make room for it.")
    assert_not_sees(theirs.get(page), "asks for a place for")
    take(mine, reverse("placement-bring-in", args=[late.placements.get().pk]), {"next": page})
    assert_sees(theirs.get(page), "Tomas asks for a place for “A bell for the ticket desk”")


def test_where_nobody_could_say_yes_room_is_made_by_whoever_brings_it_in(
    client_for: ClientFor, manager: Person, now: dt.datetime
) -> None:
    made = invite_report(manager, now=now)
    meeting = coming_of(made.line)
    fills = make_topic(
        made.line, manager, "All that there is", minutes=placing.longest_topic(line=made.line, now=now)
    )
    issuing.issue(meeting=meeting, actor=manager, now=now)
    late = make_topic(made.line, manager, "A bell for the ticket desk", minutes=12, now=now)
    client, page = client_for(manager), reverse("meeting", args=[meeting.pk])
    shown = client.get(page)
    assert_sees(shown, "Noor has not joined yet, so you can make room for it yourself.")
    assert_not_sees(shown, "It waits for Noor")
    bring_in = reverse("placement-bring-in", args=[late.placements.get().pk])
    assert_sees(client.post(bring_in, {"next": page}), "All that there is")
    assert str(late.placements.get().pk) not in keys(meeting)
    take(client, bring_in, {"next": page})
    assert str(late.placements.get().pk) in keys(meeting)
    assert_not_sees(client.get(page), "has not joined yet, so you can")
    assert fills.placements.get().outcome == Placement.Outcome.UNDECIDED


def test_a_no_leaves_the_order_as_it_is(
    client_for: ClientFor,
    issued_meeting: Meeting,
    line: Line,
    manager: Person,
    report: Person,
    now: dt.datetime,
) -> None:
    make_topic(line, report, "A bell for the ticket desk", minutes=12, now=now)
    before = keys(issued_meeting)
    client = client_for(manager)
    client.post(reverse("proposal-answer", args=[Proposal.objects.get().pk]), {"answer": "decline"})
    assert keys(issued_meeting) == before
    assert_sees(client.get(reverse("meeting", args=[issued_meeting.pk])), "Without a place")


def test_a_late_topic_says_whose_answer_it_waits_for_and_is_not_answered_twice(
    client_for: ClientFor,
    issued_meeting: Meeting,
    line: Line,
    manager: Person,
    report: Person,
    now: dt.datetime,
) -> None:
    late = make_topic(line, report, "A bell for the ticket desk", minutes=12, now=now)
    page = reverse("meeting", args=[issued_meeting.pk])
    bring = reverse("placement-bring-in", args=[late.placements.get().pk])
    move = reverse("placement-move", args=[late.placements.get().pk])
    own = reverse("placement", args=[late.placements.get().pk])
    asked, asking = client_for(manager), client_for(report)
    assert_sees(asked.get(page), "It waits for your answer at the top of the page.")
    for way in (bring, move):
        assert_not_sees(asked.get(own), way)
    # Whoever asks can still ask for a time.
    assert_sees(asking.get(page), "It waits for Ines’s answer.")
    assert_not_sees(asking.get(own), bring)
    assert_sees(asking.get(own), move)
    for client in (asked, asking):
        assert_not_sees(client.get(page), "Everything that asks for time has its place.")
    asked.post(reverse("proposal-answer", args=[Proposal.objects.get().pk]), {"answer": "decline"})
    assert_sees(asked.get(page), "Both of you have to agree to make room for it.")
    assert_sees(asked.get(own), bring)


def test_another_interval_is_agreed_on_the_page_of_the_meeting(
    client_for: ClientFor,
    meeting: Meeting,
    line: Line,
    manager: Person,
    report: Person,
    now: dt.datetime,
) -> None:
    proposal = intervals.propose(
        line=line, terms=replace(QUARTERLY, every=4), actor=report, now=now, today=now.date()
    )
    client, page = client_for(manager), reverse("meeting", args=[meeting.pk])
    assert_sees(client.get(page), "Tomas proposes to meet every 4 weeks")
    client.post(reverse("proposal-answer", args=[proposal.pk]), {"answer": "accept", "next": page})
    assert line.intervals.filter(every=4, agreed_at__isnull=False).exists()


def test_a_time_is_proposed_from_the_form_that_moves_and_answered_on_the_meetings_page(
    client_for: ClientFor, meeting: Meeting, manager: Person, report: Person
) -> None:
    page, move = reverse("meeting", args=[meeting.pk]), reverse("meeting-move", args=[meeting.pk])
    sent = {"day": "2026-12-01", "time": "09:00", "propose": "1"}
    told = client_for(report).post(move, sent, follow=True)
    assert_sees(told, "Proposed. The time stays as it is until the other side answers.")
    assert_sees(told, "Take it back")
    asked = client_for(manager)
    words = "Tomas Lindqvist proposes to meet earlier: Tuesday 1 December, 09:00 instead of"
    assert_sees(asked.get(page), words)
    assert_sees(asked.get(reverse("next")), words)
    answer = reverse("proposal-answer", args=[Proposal.objects.get().pk])
    asked.post(answer, {"answer": "decline", "next": page})
    meeting.refresh_from_db()
    assert meeting.starts_at == dt.datetime(2026, 12, 3, 10, 0, tzinfo=dt.UTC)
    assert_sees(
        client_for(report).get(reverse("next")),
        "Ines Okafor has declined another time. Your one-on-one stays on",
    )


def test_a_refused_proposal_keeps_what_was_typed(
    client_for: ClientFor, meeting: Meeting, report: Person
) -> None:
    sent = {"day": "2027-03-04", "time": "09:00", "propose": "1"}
    answer = client_for(report).post(reverse("meeting-move", args=[meeting.pk]), sent)
    assert answer.status_code == 422
    assert 'value="2027-03-04"' in answer.content.decode()
    assert Proposal.objects.count() == 0


def test_an_extra_one_is_proposed_seen_on_the_lines_page_and_taken_back(
    client_for: ClientFor, line: Line, manager: Person, report: Person
) -> None:
    sent = {"day": "2026-12-10", "time": "15:00", "minutes": "20", "client_key": str(uuid4()), "propose": "1"}
    mine, theirs = client_for(report), client_for(manager)
    told = mine.post(reverse("line-extra", args=[line.pk]), sent, follow=True)
    assert_sees(told, "You proposed an extra one-on-one on Thursday 10 December, 15:00")
    assert_sees(
        theirs.get(reverse("line", args=[line.pk])),
        "Tomas Lindqvist proposes an extra one-on-one on Thursday 10 December, 15:00, 20 minutes.",
    )
    withdraw = reverse("proposal-withdraw", args=[Proposal.objects.get().pk])
    assert theirs.post(withdraw).status_code == 403
    mine.post(withdraw)
    assert Proposal.objects.get().state == Proposal.State.WITHDRAWN
    assert_not_sees(theirs.get(reverse("line", args=[line.pk])), "extra one-on-one on Thursday")
    assert Meeting.objects.filter(is_extra=True).count() == 0
