"""When meetings fall and whether they happen: pure date arithmetic, without a clock.

A `Rule` is the agreed interval, `occurrences` its dates on days both work, `instants` the steps of
one meeting's cycle, `standing` and its neighbours what became of it.
"""

from oneonone.cadence.clocks import Clocks, differing
from oneonone.cadence.findtimes import Placing, place_meetings
from oneonone.cadence.instants import QUIET, Instants, Notice, instants, is_quiet, today_instant
from oneonone.cadence.load import minutes_a_week
from oneonone.cadence.moves import Claim, check_move, claimed, leaves_its_date, nearest_days
from oneonone.cadence.occurrences import Occurrence, Stretch, changeover, course, occurrences
from oneonone.cadence.pauses import Pause
from oneonone.cadence.periods import (
    Share,
    Silence,
    longest_silence,
    past_interval,
    share_within,
    silence,
    silences,
)
from oneonone.cadence.publicholidays import countries, holidays_for
from oneonone.cadence.refusals import (
    CadenceRefusal,
    InvalidMove,
    InvalidNotice,
    InvalidPeriod,
    InvalidRule,
    InvalidWorkingDays,
    NoWorkingDay,
    UnknownCountry,
    UnknownSubdivision,
    UnknownZone,
)
from oneonone.cadence.rrule import to_rrule
from oneonone.cadence.rule import Rule, add_months
from oneonone.cadence.standing import Agreement, Standing, due_day, standing
from oneonone.cadence.workdays import Workdays, WorkingDays, closed, common
from oneonone.cadence.zones import check_zone, clock_changes, end_of_day, local, start_instant, zone_names

__all__ = [
    "QUIET",
    "Agreement",
    "CadenceRefusal",
    "Claim",
    "Clocks",
    "Instants",
    "InvalidMove",
    "InvalidNotice",
    "InvalidPeriod",
    "InvalidRule",
    "InvalidWorkingDays",
    "NoWorkingDay",
    "Notice",
    "Occurrence",
    "Pause",
    "Placing",
    "Rule",
    "Share",
    "Silence",
    "Standing",
    "Stretch",
    "UnknownCountry",
    "UnknownSubdivision",
    "UnknownZone",
    "Workdays",
    "WorkingDays",
    "add_months",
    "changeover",
    "check_move",
    "check_zone",
    "claimed",
    "clock_changes",
    "closed",
    "common",
    "countries",
    "course",
    "differing",
    "due_day",
    "end_of_day",
    "holidays_for",
    "instants",
    "is_quiet",
    "leaves_its_date",
    "local",
    "longest_silence",
    "minutes_a_week",
    "nearest_days",
    "occurrences",
    "past_interval",
    "place_meetings",
    "share_within",
    "silence",
    "silences",
    "standing",
    "start_instant",
    "to_rrule",
    "today_instant",
    "zone_names",
]
