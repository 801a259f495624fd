"""What falls due around a meeting by itself: it exists, is invited to, issued, reminded of, asked about."""

from __future__ import annotations

import datetime as dt

from django.db.models import Exists, OuterRef, Q, QuerySet

from oneonone import cadence
from oneonone.models import Interval, Line, Meeting, Notice, Pause, Placement, Seen, Side, Topic
from oneonone.models.people import with_people
from oneonone.services import claims, coming, meetings, notices
from oneonone.services.agenda import issuing, placing
from oneonone.services.jobs_queue import Job

UNSTARTED = (Meeting.State.PLANNED, Meeting.State.ISSUED)
ONE_DAY = dt.timedelta(days=1)
# The reminder of the day may be due on the evening before, seen from any zone.
LOOK_AHEAD = dt.timedelta(days=2)
# A record that nobody has looked at for two weeks is not nudged about any more.
NUDGED_FOR = dt.timedelta(days=14)


def _of_open_lines() -> QuerySet[Meeting]:
    meetings = Meeting.objects.filter(line__ended_at__isnull=True).select_related("interval")
    return with_people(meetings, "line__manager", "line__report")


def lines_without_coming(now: dt.datetime) -> QuerySet[Line]:
    """Open lines with an interval, not paused without an end, that have no meeting ahead."""
    ahead = Meeting.objects.coming().filter(line=OuterRef("pk"), starts_at__gt=now, is_extra=False)
    endless = Pause.objects.filter(line=OuterRef("pk"), last__isnull=True, first__lte=now.date())
    lines = (
        Line.objects.open()
        .filter(~Exists(ahead), ~Exists(endless), Exists(Interval.objects.filter(line=OuterRef("pk"))))
        .order_by("created_at", "id")
    )
    return with_people(lines, "manager", "report")


def make_coming(line: Line, now: dt.datetime) -> bool:
    return coming.ensure(line=line, now=now) is not None


def to_invite(now: dt.datetime) -> QuerySet[Meeting]:
    """Meetings ahead whose invitation for topics is due and has not gone out by hand."""
    return (
        _of_open_lines()
        .filter(state=Meeting.State.PLANNED, invite_at__lte=now, invited_at__isnull=True, starts_at__gt=now)
        .order_by("invite_at", "id")
    )


def invite(meeting: Meeting, now: dt.datetime) -> None:
    meetings.invite(meeting=meeting, actor=None, words="", now=now)


def to_issue(now: dt.datetime) -> QuerySet[Meeting]:
    """Meetings ahead whose order is due. One that has begun without an order is issued by starting it."""
    return (
        _of_open_lines()
        .filter(state=Meeting.State.PLANNED, issue_at__lte=now, starts_at__gt=now)
        .order_by("issue_at", "id")
    )


def issue(meeting: Meeting, now: dt.datetime) -> None:
    issuing.issue(meeting=meeting, actor=None, now=now)


def _told(kind: Notice.Kind, **more: object) -> Exists:
    """Whether a notice of this kind about the meeting, at its present time, is owed already."""
    return Exists(
        Notice.objects.filter(
            kind=kind, subject=OuterRef("pk"), schedule_version=OuterRef("schedule_version"), **more
        )
    )


def to_remind_today(now: dt.datetime) -> QuerySet[Meeting]:
    """Meetings of the next two days for whose present time no reminder of the day is owed yet."""
    return (
        _of_open_lines()
        .filter(
            ~_told(Notice.Kind.TODAY), state__in=UNSTARTED, starts_at__gt=now, starts_at__lte=now + LOOK_AHEAD
        )
        .order_by("starts_at", "id")
    )


def remind_today(meeting: Meeting, now: dt.datetime) -> None:
    """Owe both sides one reminder, each at their own hour: by their clocks, outside their quiet hours."""
    for person in (meeting.line.manager, meeting.line.report):
        if person is None:
            continue
        notices.owe(
            kind=Notice.Kind.TODAY,
            person=person,
            subject=meeting.pk,
            schedule_version=meeting.schedule_version,
            line=meeting.line,
            meeting=meeting,
            now=now,
            owed_at=cadence.today_instant(
                meeting.starts_at, person.zone, (person.quiet_from, person.quiet_to)
            ),
            at_once=True,
        )


def to_nudge(now: dt.datetime) -> QuerySet[Meeting]:
    """Closed meetings whose record is due, and that a side has neither seen nor been nudged about."""

    def waits(side: Side) -> Q:
        seen = Seen.objects.filter(meeting=OuterRef("pk"), side=side)
        nudged = Notice.objects.filter(
            kind=Notice.Kind.RECORD, subject=OuterRef("pk"), person=OuterRef(f"line__{side}")
        )
        return Q(~Exists(seen), ~Exists(nudged), **{f"line__{side}__isnull": False})

    return (
        _of_open_lines()
        .filter(state=Meeting.State.CLOSED, record_at__lte=now, record_at__gt=now - NUDGED_FOR)
        .filter(waits(Side.MANAGER) | waits(Side.REPORT))
        .order_by("record_at", "id")
    )


def nudge(meeting: Meeting, now: dt.datetime) -> None:
    seen = set(Seen.objects.filter(meeting=meeting).values_list("side", flat=True))
    for side in Side:
        person = meeting.line.person_on(side)
        if person is not None and side not in seen:
            notices.owe(
                kind=Notice.Kind.RECORD,
                person=person,
                subject=meeting.pk,
                line=meeting.line,
                meeting=meeting,
                now=now,
            )


def to_ask(now: dt.datetime) -> QuerySet[Meeting]:
    """Meetings that lie a day back, and about which nobody has been asked: not started, or left under way."""
    unstarted = Q(~_told(Notice.Kind.UNANSWERED), state__in=UNSTARTED, starts_at__lte=now - ONE_DAY)
    left = Q(~_told(Notice.Kind.LEFT_OPEN), state=Meeting.State.UNDER_WAY, began_at__lte=now - ONE_DAY)
    return _of_open_lines().filter(unstarted | left).order_by("starts_at", "id")


def ask(meeting: Meeting, now: dt.datetime) -> None:
    """Ask both sides: did you meet? or: is it over?"""
    under_way = meeting.state == Meeting.State.UNDER_WAY
    for person in (meeting.line.manager, meeting.line.report):
        if person is not None:
            notices.owe(
                kind=Notice.Kind.LEFT_OPEN if under_way else Notice.Kind.UNANSWERED,
                person=person,
                subject=meeting.pk,
                schedule_version=meeting.schedule_version,
                line=meeting.line,
                meeting=meeting,
                now=now,
            )


def to_give_up(now: dt.datetime) -> QuerySet[Meeting]:
    """Meetings that nobody answered about until the next one's invitation fell due."""
    following = Meeting.objects.filter(
        line=OuterRef("line"), starts_at__gt=OuterRef("starts_at"), state__in=UNSTARTED, invite_at__lte=now
    )
    asked = Q(state__in=UNSTARTED, starts_at__lte=now - ONE_DAY) | Q(
        state=Meeting.State.UNDER_WAY, began_at__lte=now - ONE_DAY
    )
    return (
        _of_open_lines()
        .filter(asked, Exists(following), given_up_at__isnull=True)
        .order_by("starts_at", "id")
    )


def give_up(meeting: Meeting, now: dt.datetime) -> None:
    claims.give_up(meeting=meeting, now=now)


def lines_with_resting_topics(now: dt.datetime) -> QuerySet[Line]:
    """Open lines on which an open topic is in no meeting although one is coming that has not had it."""
    ahead = Meeting.objects.coming().filter(
        ~Exists(Placement.objects.filter(meeting=OuterRef("pk"), topic=OuterRef(OuterRef("pk")))),
        line=OuterRef("line"),
        given_up_at__isnull=True,
    )
    undecided = Placement.objects.filter(topic=OuterRef("pk"), outcome=Placement.Outcome.UNDECIDED)
    resting = Topic.objects.filter(
        ~Exists(undecided), Exists(ahead), state=Topic.State.OPEN, every_nth__isnull=True
    )
    lines = Line.objects.open().filter(pk__in=resting.values("line")).order_by("created_at", "id")
    return with_people(lines, "manager", "report")


def gather(line: Line, now: dt.datetime) -> bool:
    return placing.gather(line=line, now=now) > 0


COMING = Job("coming", lines_without_coming, make_coming)
ASK = Job("ask", to_ask, ask)
GIVE_UP = Job("give up", to_give_up, give_up)
GATHER = Job("gather", lines_with_resting_topics, gather)
INVITE = Job("invite", to_invite, invite)
ISSUE = Job("issue", to_issue, issue)
TODAY = Job("today", to_remind_today, remind_today)
RECORD = Job("record", to_nudge, nudge)
