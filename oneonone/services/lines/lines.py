"""Reporting lines: made, joined, paused, ended."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from uuid import UUID

from django.db import IntegrityError, transaction
from django.db.models import Q
from django.utils.translation import gettext as _

from accounts.models import Invitation, Person
from accounts.services import invitations
from oneonone.models import Line, Meeting, Pause, Side
from oneonone.models.locks import lock_line, lock_lines
from oneonone.models.owed import Notice
from oneonone.services import audit, idempotency
from oneonone.services.commitments import commitments
from oneonone.services.meetings import coming_meetings, intervals, meetings
from oneonone.services.notices import notices
from oneonone.services.refusals import Circle, NotNow, OutOfRange, PastDate, SecondLine


@dataclass(frozen=True)
class Invited:
    """The other side of a new line, known by name and address only. ``side`` is theirs."""

    name: str
    email: str
    side: Side


@dataclass(frozen=True)
class Made:
    """A new line, and the token of its invitation, which is not stored."""

    line: Line
    token: str | None


@transaction.atomic
def create(
    *,
    actor: Person,
    now: dt.datetime,
    today: dt.date,
    terms: intervals.Terms,
    manager: Person | None = None,
    report: Person | None = None,
    invited: Invited | None = None,
    starts_on: dt.date | None = None,
    client_key: UUID | None = None,
) -> Made:
    """Make a line between two accounts (*joined*), or between an account and somebody *invited*.

    A line made by an administrator opens the view down the tree at once; one that a manager makes waits for
    an administrator to confirm it. Refused: one person on both sides, a side missing, a second open line
    for the pair, a circle, a start more than a year back.
    """
    earlier = idempotency.result(actor=actor, client_key=client_key, act="lines.create", model=Line)
    if earlier is not None:
        return Made(earlier, None)
    _check_sides(manager, report, invited)
    lock_lines()
    starts_on = starts_on or today
    if starts_on < today - dt.timedelta(days=366):
        raise PastDate(field="starts_on", accepted=_("A day within the last year, or later."))
    line = Line(
        manager=manager,
        report=report,
        start=Line.Start.JOINED if invited is None else Line.Start.INVITED,
        starts_on=starts_on,
        created_by=actor,
        created_at=now,
    )
    token = None
    if invited is not None:
        line.invitation, token = _invite(line, invited, actor=actor, now=now)
    if manager is not None and report is not None:
        _check_pair(manager, report)
    if actor.is_administrator:
        line.tree_confirmed_at, line.tree_confirmed_by = now, actor
    line.save(force_insert=True)
    intervals.add_first(line=line, terms=terms, actor=actor, now=now)
    coming_meetings.ensure(line=line, now=now)
    idempotency.done(actor=actor, client_key=client_key, act="lines.create", subject=line.pk, now=now)
    audit.note(actor=actor, act="line made", subject=line.pk, now=now)
    return Made(line, token)


def _check_sides(manager: Person | None, report: Person | None, invited: Invited | None) -> None:
    """Refuse a side with no person or with two."""
    for side, person in ((Side.MANAGER, manager), (Side.REPORT, report)):
        asked = invited is not None and invited.side is side
        if (person is None) is not asked:
            raise OutOfRange(field=side.value, accepted=_("One person: an account, or somebody invited."))


def _invite(line: Line, invited: Invited, *, actor: Person, now: dt.datetime) -> tuple[Invitation, str]:
    here = line.someone
    if here.email.casefold() == invited.email.strip().casefold():
        raise OutOfRange(field="email", accepted=_("The address of somebody else."))
    pending = Line.objects.open().filter(
        Q(manager=here) if invited.side is Side.REPORT else Q(report=here),
        start=Line.Start.INVITED,
        invitation__email__iexact=invited.email.strip(),
    )
    known = Q(report__email__iexact=invited.email.strip(), manager=here)
    if invited.side is Side.MANAGER:
        known = Q(manager__email__iexact=invited.email.strip(), report=here)
    if pending.exists() or Line.objects.open().filter(known).exists():
        raise SecondLine(field="email", accepted=_("End the open line first, or use another address."))
    invitation, token = invitations.invite(email=invited.email, name=invited.name, invited_by=actor, now=now)
    if invited.side is Side.REPORT:
        line.report_name = invitation.name
    else:
        line.manager_name = invitation.name
    return invitation, token


def _check_pair(manager: Person, report: Person) -> None:
    """Refuse one person twice, a second open line, and a circle. The lock on lines is held."""
    if manager.pk == report.pk:
        raise OutOfRange(field="report", accepted=_("Two different people."))
    if Line.objects.open().filter(manager=manager, report=report).exists():
        raise SecondLine(field="report", accepted=_("End the open line first."))
    if _leads_to(report.pk, manager.pk):
        raise Circle(
            field="report", accepted=_("Somebody whose reports, directly or further down, do not lead here.")
        )


def _leads_to(top: UUID, wanted: UUID) -> bool:
    """Whether ``wanted`` is below ``top`` by open lines, one query a level."""
    level, seen = {top}, {top}
    while level:
        below = set(
            Line.objects.open()
            .filter(manager__in=level, report__isnull=False)
            .values_list("report_id", flat=True)
        )
        if wanted in below:
            return True
        level = below - seen
        seen |= below
    return False


@transaction.atomic
def join(*, invitation: Invitation, person: Person, now: dt.datetime) -> Line | None:
    """Put the person who accepted on the side of the line they were invited to.

    Called once the invitation has been claimed; refused, like a new line, when the pair already has one or a
    circle would close. None when the invitation was to the server and to no line.
    """
    lock_lines()
    line = Line.objects.open().filter(invitation=invitation).select_related("manager", "report").first()
    if line is None:
        return None
    side = Side.REPORT if line.report_id is None else Side.MANAGER
    here = line.someone
    manager, report = (here, person) if side is Side.REPORT else (person, here)
    _check_pair(manager, report)
    line.manager, line.report = manager, report
    line.manager_name = line.report_name = ""
    line.start = Line.Start.JOINED
    line.version += 1
    try:
        line.save(update_fields=["manager", "report", "manager_name", "report_name", "start", "version"])
    except IntegrityError:
        raise SecondLine from None
    commitments.adopt(line=line, side=side, person=person, now=now)
    notices.owe(kind=Notice.Kind.JOINED, person=here, subject=line.pk, line=line, now=now)
    coming_meetings.refresh(line=line, now=now)
    audit.note(actor=person, act="line joined", subject=line.pk, now=now)
    return line


@transaction.atomic
def confirm(*, line: Line, actor: Person, now: dt.datetime) -> Line:
    """Open the view down the tree for this line. An administrator's act."""
    Line.objects.filter(pk=line.pk, tree_confirmed_at__isnull=True).update(
        tree_confirmed_at=now, tree_confirmed_by=actor
    )
    line.refresh_from_db()
    audit.note(actor=actor, act="line confirmed", subject=line.pk, now=now)
    return line


@transaction.atomic
def pause(
    *, line: Line, first: dt.date, last: dt.date | None, actor: Person, now: dt.datetime, today: dt.date
) -> Pause:
    """Pause the line between two days, or until it is resumed. No reason is stored.

    Coming meetings inside the pause are called off. Refused: a first day in the past, a last before it, a
    pause that shares a day with another.
    """
    if first < today:
        raise PastDate(field="first", accepted=_("Today or later."))
    if last is not None and last < first:
        raise OutOfRange(field="last", accepted=_("The first day or later."))
    if not lock_line(line):
        raise NotNow
    overlap = line.pauses.filter(Q(last__isnull=True) | Q(last__gte=first))
    if last is not None:
        overlap = overlap.filter(first__lte=last)
    if overlap.exists():
        raise NotNow(field="first", accepted=_("End the pause that is already there first."))
    made = Pause(line=line, first=first, last=last, by=actor, at=now)
    made.save(force_insert=True)
    coming_meetings.leave_out_paused(line=line, pause=made, actor=actor, now=now)
    for person in _others(line, actor):
        notices.owe(
            kind=Notice.Kind.PAUSED,
            person=person,
            subject=made.pk,
            occurrence=f"{made.first.isoformat()} {made.last.isoformat() if made.last else ''}".strip(),
            line=line,
            now=now,
        )
    audit.note(actor=actor, act="line paused", subject=line.pk, now=now)
    return made


@transaction.atomic
def resume(*, line: Line, actor: Person, now: dt.datetime, today: dt.date) -> Line:
    """End the current pause with yesterday as its last day. Without a current one, delete the next pause.

    Meetings that it had called off, and whose time still lies ahead, are planned again. A later pause stays.
    """
    lock_line(line)
    over = line.pauses.filter(Q(last__isnull=True) | Q(last__gte=today)).order_by("first").first()
    since = [] if over is None else [over.at]
    if over is not None:
        notices.cancel(kind=Notice.Kind.PAUSED, subject=over.pk, now=now)
        for person in _others(line, actor):
            notices.owe(kind=Notice.Kind.RESUMED, person=person, subject=over.pk, line=line, now=now)
    if over is not None and over.first >= today:
        over.delete()
    elif over is not None:
        line.pauses.filter(pk=over.pk).update(last=today - dt.timedelta(days=1))
    coming_meetings.take_back_in(line=line, left_out_at=since, actor=actor, now=now)
    coming_meetings.ensure(line=line, now=now)
    audit.note(actor=actor, act="line resumed", subject=line.pk, now=now)
    return line


@transaction.atomic
def end(*, line: Line, actor: Person, now: dt.datetime, today: dt.date) -> Line:
    """End a line today. Its manager at once loses its pages; nothing that was written is deleted.

    Coming meetings are called off and their topics rest; one under way was held, and is closed. An invitation
    not yet accepted is revoked, and open commitments wait with their owners.
    """
    ends_on = max(today, line.starts_on)
    changed = Line.objects.filter(pk=line.pk, ended_at__isnull=True).update(
        ended_at=now, ends_on=ends_on, ended_by=actor, version=line.version + 1
    )
    if not changed:
        raise NotNow
    line.refresh_from_db()
    for meeting in line.meetings.coming().filter(given_up_at__isnull=True):
        if meeting.state == Meeting.State.UNDER_WAY:
            meetings.close(meeting=meeting, actor=actor, now=now)
        else:
            coming_meetings.rest(meeting=meeting, actor=actor, now=now)
    line.proposals.filter(state="open").update(state="lapsed", answered_at=now)
    if line.invitation is not None and line.invitation.accepted_at is None:
        invitations.revoke(invitation=line.invitation, now=now)
    for person in _others(line, actor):
        notices.owe(kind=Notice.Kind.LINE_ENDED, person=person, subject=line.pk, line=line, now=now)
    audit.note(actor=actor, act="line ended", subject=line.pk, now=now)
    return line


def _others(line: Line, actor: Person) -> list[Person]:
    """Return the joined sides other than the actor. An administrator's act is told to both sides."""
    return [person for person in (line.manager, line.report) if person is not None and person.pk != actor.pk]
