"""The instants of a meeting: when each step of its cycle is due."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from oneonone.cadence.refusals import CadenceRefusal, InvalidNotice
from oneonone.cadence.rule import Rule
from oneonone.cadence.workdays import DAY, Workdays
from oneonone.cadence.zones import end_of_day, local, start_instant

INVITE_AT = time(9)
ISSUE_AT = time(12)
RECORD_AT = time(12)
TODAY_AT = time(8)
TODAY_AHEAD = timedelta(hours=2)
QUIET = (time(20), time(7))
MINUTE = timedelta(minutes=1)
MOST_MINUTES = 480
MOST_WORKING_DAYS = 60


@dataclass(frozen=True)
class Notice:
    """How many working days lie between the steps of a line's cycle and its meeting.

    An invitation comes no later than the issue, and the issue no later than the end of preparing.
    """

    invite_working_days: int
    issue_working_days: int
    prepare_working_days: int
    record_working_days: int

    def __post_init__(self) -> None:
        for field in (
            "invite_working_days",
            "issue_working_days",
            "prepare_working_days",
            "record_working_days",
        ):
            value = getattr(self, field)
            if not 0 <= value <= MOST_WORKING_DAYS:
                raise InvalidNotice(field, f"0 to {MOST_WORKING_DAYS} working days", value)
        if self.issue_working_days < self.prepare_working_days:
            raise InvalidNotice(
                "issue_working_days",
                f"at least {self.prepare_working_days}, as for preparing",
                self.issue_working_days,
            )
        if self.invite_working_days < self.issue_working_days:
            raise InvalidNotice(
                "invite_working_days",
                f"at least {self.issue_working_days}, as for the issue",
                self.invite_working_days,
            )

    @classmethod
    def defaults_for(cls, rule: Rule) -> Notice:
        """The defaults for an interval of four weeks or more, or for a shorter one."""
        return FOUR_WEEKS_OR_MORE if rule.is_four_weeks_or_more else SHORTER


FOUR_WEEKS_OR_MORE = Notice(10, 3, 1, 2)
SHORTER = Notice(3, 1, 0, 1)


@dataclass(frozen=True)
class Instants:
    """A meeting's start and end and the steps around it, all in UTC.

    In order: invite, issue, prepare by, start, end, record. The reminder of the day, `today`,
    comes before the start.
    """

    start: datetime
    end: datetime
    invite: datetime
    issue: datetime
    prepare_by: datetime
    today: datetime
    record: datetime


def instants(
    day: date,
    at: time,
    zone: str,
    minutes: int,
    days: Workdays,
    notice: Notice,
    quiet: tuple[time, time] = QUIET,
) -> Instants:
    """When each step of a meeting is due, from its day and local time and the working days of both.

    Invite: so many working days before, 09:00 in the line's zone. Issue: noon. Prepare by: the last
    minute of the day, or the start itself for zero working days. Record: noon, so that the morning
    is left for writing up. A step counted with zero days is never later than the start, the record
    never earlier than the end.

    Recompute whenever the day, the time, the zone, the working days or the time zone database
    change. `NoWorkingDay` when somebody is away for ten years.
    """
    if not 1 <= minutes <= MOST_MINUTES:
        raise CadenceRefusal("minutes", f"1 to {MOST_MINUTES}", minutes)
    start = start_instant(day, at, zone)
    end = start + timedelta(minutes=minutes)
    before = [day, *days.counted(day, -notice.invite_working_days)]
    prepare_by = start
    if notice.prepare_working_days:
        prepare_by = min(start, end_of_day(before[notice.prepare_working_days], zone))
    issue = min(prepare_by, start_instant(before[notice.issue_working_days], ISSUE_AT, zone))
    invite = min(issue, start_instant(before[notice.invite_working_days], INVITE_AT, zone))
    record = max(end, start_instant(days.add(day, notice.record_working_days), RECORD_AT, zone))
    return Instants(start, end, invite, issue, prepare_by, today_instant(start, zone, quiet), record)


def today_instant(start: datetime, zone: str, quiet: tuple[time, time] = QUIET) -> datetime:
    """When the one reminder of the day is due on the clocks of a zone.

    The earlier of 08:00 on the day of the meeting and two hours before it. If that falls in quiet
    hours, one minute before those quiet hours begin, which for a night is the evening before.
    The zone is the line's, or a reader's own when they live by other clocks.
    """
    day = local(start, zone).date()
    wanted = min(start_instant(day, TODAY_AT, zone), start - TODAY_AHEAD)
    there = local(wanted, zone)
    if not is_quiet(there.time(), quiet):
        return wanted
    began = there.date() - DAY if there.time() < quiet[0] else there.date()
    before = start_instant(began, quiet[0], zone) - MINUTE
    # Where a clock change skips the beginning of the quiet hours, they begin with the skipped time.
    while is_quiet(local(before, zone).time(), quiet):
        before -= MINUTE
    return before


def is_quiet(clock: time, quiet: tuple[time, time]) -> bool:
    """Whether a local time lies in quiet hours, first included, last not. Two equal times are none."""
    begins, ends = quiet
    if ends < begins:
        return clock >= begins or clock < ends
    return begins <= clock < ends
