"""Answers to what the other side proposes: a late topic, another interval."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from django.urls import reverse

from accounts.models import Person
from oneonone.models import Line, Meeting, Proposal
from oneonone.services import intervals
from tests.cast import ClientFor, assert_sees
from tests.scene import QUARTERLY, make_topic


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
        "Tomas Lindqvist has added “A bell for the ticket desk” (12 minutes) after the order was issued.",
    )
    placed = str(late.placements.get().pk)
    assert placed not in keys(issued_meeting)
    client.post(answer, {"answer": "accept", "next": page})
    assert placed in keys(issued_meeting)
    told = client.post(answer, {"answer": "accept", "next": page}, follow=True)
    assert_sees(told, "That cannot be done any more: it has changed in the meantime.")


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
    assert_sees(client.get(reverse("meeting", args=[issued_meeting.pk])), "Added late, without a place")


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
    assert_sees(client.get(page), "Tomas Lindqvist proposes another interval: every 4 weeks")
    client.post(reverse("proposal-answer", args=[proposal.pk]), {"answer": "accept", "next": page})
    assert line.intervals.filter(every=4, agreed_at__isnull=False).exists()
