"""What falls due around a meeting by itself: it exists, is invited to, issued, reminded of, asked about."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from django.db.models import Exists, F, OuterRef, Q, QuerySet

from oneonone import cadence
from oneonone.models import Interval, Line, Meeting, Notice, Pause, Placement, Seen, Topic
from oneonone.models.people import with_people
from oneonone.services.agenda import issuing, placing
from oneonone.services.meetings import coming_meetings, held_claims, meetings
from oneonone.services.notices import notices
from oneonone.services.notices.job_queue import Job

UNSTARTED = (Meeting.State.PLANNED, Meeting.State.ISSUED)
STARTED = tuple(state for state in Meeting.State if state not in UNSTARTED)
ONE_DAY = dt.timedelta(days=1)
# The reminder of the day may be due on the evening before, seen from any zone.
LOOK_AHEAD = dt.timedelta(days=2)
# A record that nobody has looked at for two weeks is not nudged about any more.
NUDGED_FOR = dt.timedelta(days=14)


def _of_open_lines() -> QuerySet[Meeting]:
    meetings = Meeting.objects.filter(line__ended_at__isnull=True).select_related("interval")
    return with_people(meetings, "line__manager", "line__report")


def lines_to_plan(now: dt.datetime) -> QuerySet[Line]:
    """Open lines that are new, or for which no next meeting could be made the last time."""
    lines = Line.objects.open().filter(plan_at__lte=now).order_by("plan_at", "id")
    return with_people(lines, "manager", "report")


def plan(line: Line, now: dt.datetime) -> None:
    """Make the line's next meeting, or look again in an hour; in a day while it is paused without an end."""
    meeting = coming_meetings.ensure(line=line, now=now)
    if meeting is not None:
        coming_meetings.plan_again(line=line, at=None)
        if not line.meetings.filter(is_next=True).exists():
            Meeting.objects.filter(pk=meeting.pk).update(is_next=True)
    elif line.pauses.filter(last__isnull=True, first__lte=now.date()).exists():
        coming_meetings.plan_again(line=line, at=now + ONE_DAY)


def next_ones_over(now: dt.datetime) -> QuerySet[Meeting]:
    """The line's next meetings whose time has come, so that the one after them has to be made."""
    over = Meeting.objects.filter(is_next=True, state__in=UNSTARTED, starts_at__lte=now)
    return with_people(over, "line__manager", "line__report").order_by("starts_at", "id")


def next_ones_begun(now: dt.datetime) -> QuerySet[Meeting]:
    """The same of those that are no longer to be held: under way at their time, held, or called off.

    One that was started early counts as ahead until its time: its start may be taken back.
    """
    begun = Meeting.objects.filter(is_next=True, state__in=STARTED)
    begun = begun.exclude(state=Meeting.State.UNDER_WAY, starts_at__gt=now)
    return with_people(begun, "line__manager", "line__report").order_by("starts_at", "id")


def follow(meeting: Meeting, now: dt.datetime) -> None:
    """Make the meeting after this one."""
    line = meeting.line
    if line.is_open:
        plan(line, now)
    ahead = Meeting.objects.coming().filter(pk=meeting.pk, starts_at__gt=now)
    if not ahead.exists():
        Meeting.objects.filter(pk=meeting.pk).update(is_next=False)


def lines_without_coming(now: dt.datetime) -> QuerySet[Line]:
    """Open lines with an interval, not paused without an end, that have no meeting ahead: a repair."""
    ahead = Meeting.objects.coming().filter(line=OuterRef("pk"), starts_at__gt=now, is_extra=False)
    endless = Pause.objects.filter(line=OuterRef("pk"), last__isnull=True, first__lte=now.date())
    lines = (
        Line.objects.open()
        .filter(~Exists(ahead), ~Exists(endless), Exists(Interval.objects.filter(line=OuterRef("pk"))))
        .order_by("created_at", "id")
    )
    return with_people(lines, "manager", "report")


def make_coming(line: Line, now: dt.datetime) -> bool:
    return coming_meetings.ensure(line=line, now=now) is not None


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


def to_remind_today(now: dt.datetime) -> QuerySet[Meeting]:
    """Meetings of the next two days for whose present time no reminder of the day is owed yet."""
    return (
        _of_open_lines()
        .filter(
            state__in=UNSTARTED,
            reminded_version__lt=F("schedule_version"),
            starts_at__gt=now,
            starts_at__lte=now + LOOK_AHEAD,
        )
        .order_by("starts_at", "id")
    )


def remind_today(meeting: Meeting, now: dt.datetime) -> None:
    remind_all_today([meeting], now)


def remind_all_today(due: Sequence[Meeting], now: dt.datetime) -> None:
    """Owe both sides one reminder, each at their own hour: by their clocks, outside their quiet hours."""
    owed = []
    for meeting in due:
        for notice in _to_both(meeting, Notice.Kind.TODAY, now):
            at = cadence.today_instant(
                meeting.starts_at, notice.person.zone, (notice.person.quiet_from, notice.person.quiet_to)
            )
            notice.owed_at = max(now, at)
            owed.append(notice)
    _mark(due, reminded_version=F("schedule_version"))
    notices.owe_all(owed)


def to_prepare_for(now: dt.datetime) -> QuerySet[Meeting]:
    """Issued meetings whose last day to prepare has begun. Where that is the day itself, TODAY says it."""
    return (
        _of_open_lines()
        .filter(
            state=Meeting.State.ISSUED,
            prepare_version__lt=F("schedule_version"),
            prepare_by_at__lte=now + ONE_DAY,
            prepare_by_at__gt=now,
            prepare_by_at__lt=F("starts_at"),
        )
        .order_by("prepare_by_at", "id")
    )


def ask_to_prepare(meeting: Meeting, now: dt.datetime) -> None:
    ask_all_to_prepare([meeting], now)


def ask_all_to_prepare(due: Sequence[Meeting], now: dt.datetime) -> None:
    """Remind both sides that this is the last day to prepare."""
    _mark(due, prepare_version=F("schedule_version"))
    notices.owe_all([notice for meeting in due for notice in _to_both(meeting, Notice.Kind.PREPARE, now)])


def _to_both(meeting: Meeting, kind: Notice.Kind, now: dt.datetime) -> list[Notice]:
    """A notice about a meeting at its present time for each side that has joined."""
    return [
        Notice(
            kind=kind,
            person=person,
            subject=meeting.pk,
            schedule_version=meeting.schedule_version,
            line=meeting.line,
            meeting=meeting,
            owed_at=now,
        )
        for person in (meeting.line.manager, meeting.line.report)
        if person is not None
    ]


def _mark(due: Sequence[Meeting], **done: object) -> None:
    """Note what has been done about meetings, as far as their time is still the one that it was done for."""
    as_read = {(meeting.pk, meeting.schedule_version) for meeting in due}
    rows = Meeting.objects.select_for_update(of=("self",)).filter(pk__in=[pk for pk, _version in as_read])
    same = [pk for pk, version in rows.values_list("pk", "schedule_version") if (pk, version) in as_read]
    Meeting.objects.filter(pk__in=same).update(**done)


def to_nudge(now: dt.datetime) -> QuerySet[Meeting]:
    """Closed meetings whose record is due, and about which nobody has been nudged."""
    return (
        _of_open_lines()
        .filter(
            state=Meeting.State.CLOSED,
            nudged_at__isnull=True,
            record_at__lte=now,
            record_at__gt=now - NUDGED_FOR,
        )
        .order_by("record_at", "id")
    )


def nudge(meeting: Meeting, now: dt.datetime) -> None:
    nudge_all([meeting], now)


def nudge_all(due: Sequence[Meeting], now: dt.datetime) -> None:
    """Owe each side that has not seen a record a nudge to look at it."""
    seen = set(Seen.objects.filter(meeting__in=due).values_list("meeting", "by"))
    owed = []
    for meeting in due:
        for notice in _to_both(meeting, Notice.Kind.RECORD, now):
            if (meeting.pk, notice.person_id) not in seen:
                notice.schedule_version = 0  # a record is nudged about once, at whatever time it was held
                owed.append(notice)
    _mark(due, nudged_at=now)
    notices.owe_all(owed)


def to_ask(now: dt.datetime) -> QuerySet[Meeting]:
    """Meetings that should have begun a day ago, and about which nobody has been asked."""
    return (
        _of_open_lines()
        .filter(state__in=UNSTARTED, asked_version__lt=F("schedule_version"), starts_at__lte=now - ONE_DAY)
        .order_by("starts_at", "id")
    )


def ask(meeting: Meeting, now: dt.datetime) -> None:
    ask_all([meeting], now)


def ask_all(due: Sequence[Meeting], now: dt.datetime) -> None:
    """Ask both sides: did you meet?"""
    _mark(due, asked_version=F("schedule_version"))
    notices.owe_all([notice for meeting in due for notice in _to_both(meeting, Notice.Kind.UNANSWERED, now)])


def left_under_way(now: dt.datetime) -> QuerySet[Meeting]:
    """Meetings that began a day ago, were never closed, and about which nobody has been asked."""
    return (
        _of_open_lines()
        .filter(state=Meeting.State.UNDER_WAY, left_asked_at__isnull=True, began_at__lte=now - ONE_DAY)
        .order_by("began_at", "id")
    )


def ask_left(meeting: Meeting, now: dt.datetime) -> None:
    """Ask both sides: is it over?"""
    _mark([meeting], left_asked_at=now)
    notices.owe_all(_to_both(meeting, Notice.Kind.LEFT_OPEN, now))


def to_clear_before(now: dt.datetime) -> QuerySet[Meeting]:
    """Meetings ahead whose invitation is due, and before which nothing has been given up yet.

    One that should have begun, or did begin, less than a day ago may still be answered about.
    """
    may_be_answered = _unanswered_before(OuterRef("line"), OuterRef("starts_at")).filter(
        Q(state__in=UNSTARTED, starts_at__gt=now - ONE_DAY)
        | Q(state=Meeting.State.UNDER_WAY, began_at__gt=now - ONE_DAY)
    )
    return (
        _of_open_lines()
        .filter(~Exists(may_be_answered), state__in=UNSTARTED, cleared_at__isnull=True, invite_at__lte=now)
        .order_by("invite_at", "id")
    )


def _unanswered_before(line: Any, starts_at: Any) -> QuerySet[Meeting]:
    return Meeting.objects.filter(
        line=line,
        state__in=(*UNSTARTED, Meeting.State.UNDER_WAY),
        starts_at__lt=starts_at,
        given_up_at__isnull=True,
    )


def clear_before(meeting: Meeting, now: dt.datetime) -> None:
    """Give up the line's earlier meetings that nobody answered about until this one's invitation fell due."""
    _mark([meeting], cleared_at=now)
    left = _unanswered_before(meeting.line_id, meeting.starts_at)
    left = with_people(left.select_related("interval"), "line__manager", "line__report")
    for earlier in left.order_by("starts_at"):
        held_claims.give_up(meeting=earlier, now=now)


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


COMING = Job("coming", lines_to_plan, plan)
FOLLOW = Job("follow", next_ones_over, follow)
FOLLOW_BEGUN = Job("follow begun", next_ones_begun, follow)
ASK = Job("ask", to_ask, ask, ask_all)
ASK_LEFT = Job("ask left", left_under_way, ask_left)
GIVE_UP = Job("give up", to_clear_before, clear_before)
INVITE = Job("invite", to_invite, invite)
ISSUE = Job("issue", to_issue, issue)
TODAY = Job("today", to_remind_today, remind_today, remind_all_today)
PREPARE = Job("prepare", to_prepare_for, ask_to_prepare, ask_all_to_prepare)
RECORD = Job("record", to_nudge, nudge, nudge_all)
# Repairs: scans of everything for what the services and jobs above have done already.
REPAIR_COMING = Job("repair coming", lines_without_coming, make_coming)
GATHER = Job("gather", lines_with_resting_topics, gather)
