"""Access to single rows. Views get rows only through these functions.

Each function takes the person who asks and then ids. It returns the row. It raises ``Http404`` for a row that
is missing or hidden, which look the same from outside, and ``PermissionDenied`` for a row that the person may
read but not change. Each makes one query, whatever the result, so that hidden and missing take the same time.
"""

from __future__ import annotations

from typing import TypeVar
from uuid import UUID

from django.core.exceptions import ObjectDoesNotExist, PermissionDenied
from django.db import models
from django.http import Http404

from accounts.models import DayAway, Person

from .models import (
    ClosingDay,
    Commitment,
    Deferral,
    Line,
    LogbookEntry,
    Mail,
    Meeting,
    Notice,
    Placement,
    Proposal,
    RecordAddition,
    RecordLine,
    Side,
    Topic,
)

T = TypeVar("T", bound=models.Model)


def _one(rows: models.QuerySet[T], pk: UUID) -> T:
    """The row with this key, or Http404."""
    try:
        return rows.get(pk=pk)
    except ObjectDoesNotExist:
        raise Http404 from None


def line_for(person: Person, line_id: UUID) -> Line:
    """A line whose pages the person may read."""
    return _one(Line.objects.visible_to(person).select_related("manager", "report", "invitation"), line_id)


def line_for_edit(person: Person, line_id: UUID) -> Line:
    """An open line of the person. Nobody can change an ended line; its report can read it."""
    line = line_for(person, line_id)
    if not line.is_open:
        raise PermissionDenied
    return line


def line_for_manager(person: Person, line_id: UUID) -> Line:
    """An open line that the person manages."""
    line = line_for_edit(person, line_id)
    if line.side_of(person) is not Side.MANAGER:
        raise PermissionDenied
    return line


def line_for_administrator(person: Person, line_id: UUID) -> Line:
    """Any open line except *alone* ones, for an administrator."""
    if not person.is_administrator:
        raise Http404
    rows = Line.objects.open().exclude(start=Line.Start.ALONE)
    return _one(rows.select_related("manager", "report", "invitation"), line_id)


def line_for_keeper(person: Person, line_id: UUID) -> Line:
    """An open line that the person may end, pause or invite to again: its manager or an administrator."""
    rows = Line.objects.open().select_related("manager", "report", "invitation")
    mine = models.Q(manager=person) | models.Q(report=person)
    if person.is_administrator:
        rows = rows.filter(mine | ~models.Q(start=Line.Start.ALONE))
    else:
        rows = rows.filter(mine)
    line = _one(rows, line_id)
    if person.is_administrator or line.side_of(person) is Side.MANAGER:
        return line
    raise PermissionDenied


def _meetings(person: Person) -> models.QuerySet[Meeting]:
    return Meeting.objects.visible_to(person).select_related(
        "line__manager", "line__report", "line__invitation", "interval"
    )


def person_for_administrator(person: Person, person_id: UUID) -> Person:
    """An account that is not erased, for an administrator."""
    if not person.is_administrator:
        raise Http404
    found: Person = _one(Person.objects.filter(erased_at__isnull=True), person_id)
    return found


def mail_for_administrator(person: Person, mail_id: UUID) -> Mail:
    """A mail that failed or whose delivery is unknown, for an administrator."""
    if not person.is_administrator:
        raise Http404
    return _one(Mail.objects.filter(state__in=(Mail.State.FAILED, Mail.State.UNKNOWN)), mail_id)


def deferral_for_administrator(person: Person, deferral_id: UUID) -> Deferral:
    """A row that a job could not deal with, for an administrator."""
    if not person.is_administrator:
        raise Http404
    return _one(Deferral.objects.exclude(error=""), deferral_id)


def closing_day_for_administrator(person: Person, closing_day_id: UUID) -> ClosingDay:
    """A closing day, for an administrator."""
    if not person.is_administrator:
        raise Http404
    return _one(ClosingDay.objects.all(), closing_day_id)


def meeting_for(person: Person, meeting_id: UUID) -> Meeting:
    return _one(_meetings(person), meeting_id)


def meeting_for_edit(person: Person, meeting_id: UUID) -> Meeting:
    """A meeting of an open line of the person."""
    meeting = meeting_for(person, meeting_id)
    if not meeting.line.is_open:
        raise PermissionDenied
    return meeting


def meeting_for_manager(person: Person, meeting_id: UUID) -> Meeting:
    """A meeting of an open line that the person manages."""
    meeting = meeting_for_edit(person, meeting_id)
    if meeting.line.side_of(person) is not Side.MANAGER:
        raise PermissionDenied
    return meeting


def topic_for(person: Person, topic_id: UUID) -> Topic:
    return _one(
        Topic.objects.visible_to(person).select_related("line__manager", "line__report", "raiser"), topic_id
    )


def topic_for_edit(person: Person, topic_id: UUID) -> Topic:
    """A topic that the person raised: only the raiser edits its text."""
    topic = topic_for(person, topic_id)
    if topic.raiser_id != person.pk:
        raise PermissionDenied
    return topic


def placement_for(person: Person, placement_id: UUID) -> Placement:
    """The placement of a topic in a meeting that the person may read."""
    rows = Placement.objects.filter(meeting__in=Meeting.objects.visible_to(person))
    return _one(
        rows.select_related("topic", "meeting__line__manager", "meeting__line__report", "meeting__interval"),
        placement_id,
    )


def placement_for_edit(person: Person, placement_id: UUID) -> Placement:
    placement = placement_for(person, placement_id)
    if not placement.meeting.line.is_open:
        raise PermissionDenied
    return placement


def record_line_for_edit(person: Person, record_line_id: UUID) -> RecordLine:
    """A record line that the person wrote. Lines of the other side are 403."""
    rows = RecordLine.objects.filter(meeting__in=Meeting.objects.visible_to(person))
    line = _one(rows.select_related("meeting__line__manager", "meeting__line__report"), record_line_id)
    if line.author_id != person.pk or not line.meeting.line.is_open:
        raise PermissionDenied
    return line


def record_addition_for_edit(person: Person, record_addition_id: UUID) -> RecordAddition:
    """An addition to a record that the person wrote and may read. Authors may remove it at any time."""
    rows = RecordAddition.objects.filter(meeting__in=Meeting.objects.visible_to(person))
    addition = _one(
        rows.select_related("meeting__line__manager", "meeting__line__report"), record_addition_id
    )
    if addition.author_id != person.pk:
        raise PermissionDenied
    return addition


def commitment_for(person: Person, commitment_id: UUID) -> Commitment:
    return _one(
        Commitment.objects.visible_to(person).select_related(
            "line__manager", "line__report", "owner", "author"
        ),
        commitment_id,
    )


def commitment_for_owner(person: Person, commitment_id: UUID) -> Commitment:
    """A commitment that the person owns."""
    commitment = commitment_for(person, commitment_id)
    if commitment.owner_id != person.pk:
        raise PermissionDenied
    return commitment


def proposal_for(person: Person, proposal_id: UUID) -> Proposal:
    """A proposal of either side on an open line of the person."""
    rows = Proposal.objects.filter(line__in=Line.objects.visible_to(person).open())
    return _one(rows.select_related("line__manager", "line__report", "meeting", "interval"), proposal_id)


def proposal_for_answer(person: Person, proposal_id: UUID) -> Proposal:
    """A proposal of the other side, for the person to answer."""
    proposal = proposal_for(person, proposal_id)
    if proposal.by_id == person.pk:
        raise PermissionDenied
    return proposal


def proposal_for_withdrawal(person: Person, proposal_id: UUID) -> Proposal:
    """A proposal that this person made."""
    proposal = proposal_for(person, proposal_id)
    if proposal.by_id != person.pk:
        raise PermissionDenied
    return proposal


def notice_for(person: Person, notice_id: UUID) -> Notice:
    return _one(Notice.objects.visible_to(person), notice_id)


def day_away_for(person: Person, day_away_id: UUID) -> DayAway:
    return _one(DayAway.objects.filter(person=person), day_away_id)


def logbook_entry_for(person: Person, entry_id: UUID) -> LogbookEntry:
    """An entry of the person's own logbook."""
    found: LogbookEntry = _one(LogbookEntry.objects.of(person), entry_id)
    return found
