"""The next meeting of a line, which is made automatically from the interval."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from uuid import uuid4
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import F, Q

from accounts.models import Person
from oneonone import cadence
from oneonone.models import Carry, Interval, Line, Meeting, Move, Pause
from oneonone.models.locks import lock_line
from oneonone.models.owed import Notice
from oneonone.selectors.dates import line_calendar
from oneonone.services.agenda import placing
from oneonone.services.meetings.transitions import UNSTARTED, touch
from oneonone.services.notices import meeting_notices, notices
from oneonone.services.refusals import NotNow

# After none could be made. What stands in the way is mostly ended by an act, which tries again by itself.
LOOK_AGAIN = dt.timedelta(hours=1)


@transaction.atomic
def ensure(*, line: Line, now: dt.datetime) -> Meeting | None:
    """Return the line's next future meeting. Make it from the interval if there is none.

    None when the line has ended, is paused without an end, or both people are away for all the dates there
    are. Of several processes that find none, one makes it and the others get it.
    """
    if not line.is_open:
        return None
    # One that was started early counts as well: its start may be taken back.
    ahead = line.meetings.coming().filter(starts_at__gt=now, is_extra=False)
    if (found := ahead.first()) is not None:
        return found
    if not lock_line(line):
        return None
    if (found := ahead.first()) is not None:
        return found
    line.meetings.filter(is_next=True).exclude(pk__in=ahead.values("pk")).update(is_next=False)
    plan_again(line=line, at=now + LOOK_AGAIN)
    interval = line_calendar.grid_of(line, now=now)
    if interval is None:
        return None
    after = line_calendar.last_day_taken(line, interval, now=now)
    occurrence = line_calendar.coming_date(
        line, interval, after=after, now=now, pauses=list(line.pauses.all())
    )
    if occurrence is None or occurrence.day is None:
        return None
    meeting = _make(line, interval, occurrence, occurrence.day, now)
    plan_again(line=line, at=None)
    placing.gather(line=line, now=now)
    return meeting


def plan_again(*, line: Line, at: dt.datetime | None) -> None:
    """When the line's next meeting has to be looked for again; None when the meeting itself will tell."""
    Line.objects.filter(pk=line.pk).update(plan_at=at)
    line.plan_at = at


def _make(
    line: Line, interval: Interval, occurrence: cadence.Occurrence, day: dt.date, now: dt.datetime
) -> Meeting:
    instants = line_calendar.instants_of(
        line,
        line_calendar.rule_of(interval),
        day=day,
        time=interval.time,
        zone=interval.zone,
        minutes=interval.minutes,
    )
    meeting, _ = Meeting.objects.get_or_create(
        line=line,
        occurrence_key=f"{interval.pk}:{occurrence.nominal.isoformat()}",
        defaults={
            "is_next": True,
            "interval": interval,
            "nominal_date": occurrence.nominal,
            "minutes": interval.minutes,
            "zone": interval.zone,
            "place": interval.place,
            "call_link": interval.call_link,
            "uid": str(uuid4()),
            "created_at": now,
            **starts_and_instants(instants),
        },
    )
    return meeting


def starts_and_instants(instants: cadence.Instants) -> dict[str, dt.datetime]:
    """The columns of a meeting that follow from its start."""
    return {
        "starts_at": instants.start,
        "invite_at": instants.invite,
        "issue_at": instants.issue,
        "prepare_by_at": instants.prepare_by,
        "today_at": instants.today,
        "record_at": instants.record,
    }


def instants_at(meeting: Meeting, *, day: dt.date, time: dt.time) -> cadence.Instants:
    """The instants of a meeting at another local time, with the notice periods of its interval."""
    interval = meeting.interval or line_calendar.in_force(line_calendar.intervals_of(meeting.line), day)
    if interval is None:
        raise LookupError("a line with meetings and no interval")
    return line_calendar.instants_of(
        meeting.line,
        line_calendar.rule_of(interval),
        day=day,
        time=time,
        zone=meeting.zone,
        minutes=meeting.minutes,
    )


def instants_from(meeting: Meeting, starts_at: dt.datetime) -> cadence.Instants:
    """The instants of a meeting at another start, computed in the meeting's time zone."""
    local = starts_at.astimezone(ZoneInfo(meeting.zone))
    return instants_at(meeting, day=local.date(), time=local.time())


def outside_the_interval(
    line: Line, *, day: dt.date, time: dt.time | None, minutes: int | None, now: dt.datetime
) -> Meeting:
    """An extra meeting, not stored yet. Values not given come from the interval of that day."""
    interval = line_calendar.in_force(line_calendar.intervals_of(line), day)
    if interval is None:
        raise NotNow
    key = uuid4()
    meeting = Meeting(
        line=line,
        is_extra=True,
        occurrence_key=f"extra:{key}",
        minutes=minutes or interval.minutes,
        zone=interval.zone,
        place=interval.place,
        call_link=interval.call_link,
        uid=str(key),
        created_at=now,
        starts_at=cadence.start_instant(day, time or interval.time, interval.zone),
    )
    for name, value in starts_and_instants(instants_from(meeting, meeting.starts_at)).items():
        setattr(meeting, name, value)
    return meeting


@transaction.atomic
def refresh(*, line: Line, now: dt.datetime) -> None:
    """Compute the instants of the coming meetings again after something they depend on has changed.

    A meeting that nobody has confirmed, and that both have not been invited to yet, also takes the date that
    the interval gives now, or the next one if its own is skipped. Any other meeting keeps its day. Instants
    in the past do not change.
    """
    for meeting in line.meetings.coming().filter(starts_at__gt=now).select_related("interval"):
        meeting.line = line
        local = meeting.starts_at.astimezone(ZoneInfo(meeting.zone))
        day, time = local.date(), local.time()
        date = None
        if (given := _given_now(meeting, now=now)) is not None and meeting.interval is not None:
            day, time = given.day or day, meeting.interval.time
            date = _date_of(meeting.interval, given.nominal)
        write_instants(meeting, instants_at(meeting, day=day, time=time), now=now, date=date)


def _given_now(meeting: Meeting, *, now: dt.datetime) -> cadence.Occurrence | None:
    """The date that the interval gives a meeting now; None if somebody has confirmed its day.

    Only the line's last meeting can take another date: for others, the next date belongs to the next meeting.
    """
    line, interval, nominal = meeting.line, meeting.interval, meeting.nominal_date
    if interval is None or nominal is None or meeting.invited_at or meeting.confirmed_at:
        return None
    before = nominal - dt.timedelta(days=1)
    if line.meetings.filter(is_extra=False, nominal_date__gt=nominal).exists():
        own = next(line_calendar.dates_after(line, interval, after=before), None)
        return own if own is not None and own.nominal == nominal else None
    after = min(before, line_calendar.last_day_taken(line, interval, now=now, without=meeting))
    return line_calendar.coming_date(line, interval, after=after, now=now, pauses=list(line.pauses.all()))


def _date_of(interval: Interval, nominal: dt.date) -> dict[str, object]:
    """The columns that say which date of an interval a meeting is."""
    return {"nominal_date": nominal, "occurrence_key": f"{interval.pk}:{nominal.isoformat()}"}


def write_instants(
    meeting: Meeting,
    instants: cadence.Instants,
    *,
    now: dt.datetime,
    date: dict[str, object] | None = None,
) -> None:
    """Store a meeting's instants, except those that have fired already.

    ``date`` holds the columns of the interval's date if that changes too. A changed start raises the version
    of the schedule, for notices and calendars.
    """
    values: dict[str, object] = {**starts_and_instants(instants), **(date or {})}
    if meeting.invited_at is not None:
        del values["invite_at"]
    if meeting.issued_at is not None:
        del values["issue_at"]
    changed = {name: value for name, value in values.items() if getattr(meeting, name) != value}
    if not changed:
        return
    raised = {"seq": F("seq") + 1}
    if "starts_at" in changed:
        raised |= {name: F(name) + 1 for name in ("schedule_version", "calendar_sequence")}
    # If somebody has moved the meeting since it was read, their start and its instants stay.
    still_there = Meeting.objects.filter(pk=meeting.pk, schedule_version=meeting.schedule_version)
    still_there.update(**changed, **raised)
    meeting.refresh_from_db()


@transaction.atomic
def follow_interval(*, line: Line, actor: Person, now: dt.datetime) -> Meeting | None:
    """Give the coming meeting the date, length and place of the interval in force.

    Returns the meeting if it moved. The row and its topics stay. A meeting that somebody has confirmed keeps
    its day, and the interval's dates begin after it.
    """
    meeting, interval = line_calendar.not_agreed_to(line, now=now), line_calendar.grid_of(line, now=now)
    if meeting is None or interval is None:
        ensure(line=line, now=now)
        return None
    after = line_calendar.last_day_taken(line, interval, now=now, without=meeting)
    given = line_calendar.coming_date(line, interval, after=after, now=now, pauses=list(line.pauses.all()))
    if given is None or given.day is None:
        return None
    before = meeting.starts_at
    instants = line_calendar.instants_of(
        line,
        line_calendar.rule_of(interval),
        day=given.day,
        time=interval.time,
        zone=interval.zone,
        minutes=interval.minutes,
    )
    changes = {**starts_and_instants(instants), **_date_of(interval, given.nominal), "interval": interval}
    changes |= {name: getattr(interval, name) for name in ("minutes", "zone", "place", "call_link")}
    changes |= asked_anew(meeting, instants, now=now)
    if instants.start != before:
        changes |= {name: F(name) + 1 for name in ("schedule_version", "calendar_sequence")}
    touch(meeting, states=(Meeting.State.PLANNED,), **changes)
    # The start set for a topic may be past the end now.
    meeting.placements.filter(pinned_minute__gte=meeting.minutes).update(pinned_minute=None)
    if instants.start == before:
        return None
    Move.objects.create(meeting=meeting, from_start=before, to_start=meeting.starts_at, by=actor, at=now)
    meeting_notices.both(
        meeting=meeting, kind=Notice.Kind.MOVED, now=now, but=actor, at_once=True, was=before
    )
    placing.gather(line=line, now=now)
    return meeting


def asked_anew(meeting: Meeting, instants: cadence.Instants, *, now: dt.datetime) -> dict[str, object]:
    """The invitation columns of a meeting that gets another start.

    If the new invitation time is in the future, both are asked again then. Otherwise the invitation stays.
    """
    if instants.invite > now:
        return {"invite_at": instants.invite, "invited_at": None}
    return {"invite_at": instants.invite if meeting.invited_at is None else meeting.invite_at}


def leave_interval(*, line: Line, interval: Interval, now: dt.datetime) -> None:
    """Attach confirmed meetings of an old interval to the interval in force. They keep their days."""
    following = line_calendar.grid_of(line, now=now)
    if following is None:
        return
    confirmed = line.meetings.filter(interval=interval, state__in=UNSTARTED, confirmed_at__isnull=False)
    for meeting in confirmed:
        day = line_calendar.local_day(meeting.starts_at, meeting.zone)
        Meeting.objects.filter(pk=meeting.pk).update(interval=following, nominal_date=day)


def refresh_lines_of(*, person: Person, now: dt.datetime) -> None:
    """Compute a person's lines' dates again after a change of week, holidays, days away or zone."""
    lines = Line.objects.open().filter(Q(manager=person) | Q(report=person))
    for line in lines.select_related("manager", "report"):
        refresh(line=line, now=now)


@transaction.atomic
def leave_out_paused(*, line: Line, pause: Pause, actor: Person, now: dt.datetime) -> None:
    """Call off the coming meetings that a new pause covers, and make the first one after it."""
    for meeting in line.meetings.coming().exclude(state=Meeting.State.UNDER_WAY):
        if pause.covers(line_calendar.local_day(meeting.starts_at, meeting.zone)):
            rest(meeting=meeting, actor=actor, now=now)
            meeting_notices.both(
                meeting=meeting, kind=Notice.Kind.CALLED_OFF, now=now, but=actor, at_once=True
            )
    ensure(line=line, now=now)
    placing.gather(line=line, now=now)


@transaction.atomic
def take_back_in(
    *, line: Line, left_out_at: Collection[dt.datetime], actor: Person, now: dt.datetime
) -> None:
    """Plan again the future meetings that were called off by pauses made at these instants.

    The rows are the same as before. Undecided topics go to the earliest meeting, and the carries that the
    calling off made are deleted.
    """
    again = line.meetings.filter(
        state=Meeting.State.CALLED_OFF, called_off_at__in=left_out_at, starts_at__gt=now
    )
    for meeting in again:
        Carry.objects.filter(from_meeting=meeting).delete()
        Meeting.objects.filter(pk=meeting.pk).update(
            state=Meeting.State.PLANNED,
            issued_at=None,
            called_off_at=None,
            called_off_by=None,
            carried_at=None,
            seq=F("seq") + 1,
            version=F("version") + 1,
            schedule_version=F("schedule_version") + 1,
            calendar_sequence=F("calendar_sequence") + 1,
        )
        meeting.refresh_from_db()
        notices.cancel(kind=Notice.Kind.CALLED_OFF, subject=meeting.pk, now=now)
        meeting_notices.both(meeting=meeting, kind=Notice.Kind.MOVED, now=now, but=actor, at_once=True)
    placing.gather(line=line, now=now)


def rest(*, meeting: Meeting, actor: Person | None, now: dt.datetime) -> None:
    """Call off a meeting that has not begun, without a notice. Its topics and commitments are kept."""
    placing.let_go(meeting=meeting, now=now)
    touch(
        meeting,
        states=UNSTARTED,
        state=Meeting.State.CALLED_OFF,
        called_off_at=now,
        called_off_by=actor,
        current=None,
        calendar_sequence=F("calendar_sequence") + 1,
    )
