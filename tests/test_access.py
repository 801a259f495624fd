"""The doors to one row, asked directly: who is given it, who may not have it, for whom it is missing."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404

from accounts.models import Person
from oneonone import access
from oneonone.models import Line, Meeting, Topic
from oneonone.services.lines import lines
from oneonone.services.meetings import time_proposals
from tests.scene import AFTER, MADE, Brought, TakenOn, make_line, make_topic

pytestmark = pytest.mark.django_db


def test_a_proposal_is_answered_by_the_other_side_alone(
    meeting: Meeting, manager: Person, report: Person, peer: Person, now: dt.datetime
) -> None:
    asked = time_proposals.propose(
        meeting=meeting, day=dt.date(2026, 12, 4), time=dt.time(11), actor=report, now=now
    )
    assert access.proposal_for_answer(manager, asked.pk) == asked
    with pytest.raises(PermissionDenied):
        access.proposal_for_answer(report, asked.pk)
    with pytest.raises(Http404):
        access.proposal_for_answer(peer, asked.pk)


def test_a_proposal_is_taken_back_by_whoever_made_it_alone(
    meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    asked = time_proposals.propose(
        meeting=meeting, day=dt.date(2026, 12, 4), time=dt.time(11), actor=report, now=now
    )
    assert access.proposal_for_withdrawal(report, asked.pk) == asked
    with pytest.raises(PermissionDenied):
        access.proposal_for_withdrawal(manager, asked.pk)


def test_a_commitment_is_its_owners_to_answer_for(
    taken_on: TakenOn, manager: Person, report: Person, lead: Person
) -> None:
    assert access.commitment_for_owner(report, taken_on.reports.pk) == taken_on.reports
    assert access.commitment_for_owner(report, taken_on.offered.pk) == taken_on.offered
    for one in (taken_on.reports, taken_on.offered):
        with pytest.raises(PermissionDenied):
            access.commitment_for_owner(manager, one.pk)
        with pytest.raises(Http404):
            access.commitment_for_owner(lead, one.pk)


def test_topics_of_an_ended_line_are_its_managers_no_more(
    line: Line, brought: Brought, manager: Person, report: Person, administrator: Person
) -> None:
    """Neither those of the other side nor those that the manager raised, nor their places."""
    assert access.topic_for(manager, brought.licence.pk) == brought.licence
    place = brought.crane.placements.get().pk
    lines.end(line=line, actor=administrator, now=AFTER, today=AFTER.date())
    for topic in (brought.licence, brought.crane):
        for door in (access.topic_for, access.topic_for_edit):
            with pytest.raises(Http404):
                door(manager, topic.pk)
        assert topic not in Topic.objects.visible_to(manager)
    for other in (access.placement_for, access.placement_for_edit):
        with pytest.raises(Http404):
            other(manager, place)


def test_a_new_manager_does_not_see_the_topics_of_the_line_before(
    former_manager: Person, manager: Person, report: Person, administrator: Person
) -> None:
    before = make_line(former_manager, report, actor=administrator)
    old = make_topic(before, report, "Before the transfer")
    lines.end(line=before, actor=administrator, now=MADE, today=MADE.date())
    new = make_topic(make_line(manager, report, actor=administrator), report, "Since the transfer")
    assert access.topic_for(manager, new.pk) == new
    for person, topic in ((manager, old), (former_manager, old), (former_manager, new)):
        with pytest.raises(Http404):
            access.topic_for(person, topic.pk)
