"""Lines between the cast and meetings in every state, made through the services at literal instants.

One line, of Ines and Tomas: every 13 weeks on a Thursday at 10:00 in London, for 50 minutes; its first
meeting is on 3 December 2026, a week after ``now``. ``issued_meeting``, ``under_way_meeting`` and
``closed_meeting`` are that same meeting further on in its life; the last two put the clock where they are.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace

import pytest

from accounts.models import Person
from oneonone import clock
from oneonone.models import Commitment, Line, Meeting, Placement, Side, Topic
from oneonone.selectors.agenda import planner_input
from oneonone.selectors.commitments import commitments as commitments_selector
from oneonone.selectors.dates import coming_meetings
from oneonone.services.agenda import issuing, topics
from oneonone.services.commitments import commitments
from oneonone.services.lines import lines
from oneonone.services.meetings import intervals, meetings
from oneonone.services.record import record

MADE = dt.datetime(2026, 9, 7, 9, 0, tzinfo=dt.UTC)
STARTS = dt.datetime(2026, 12, 3, 10, 0, tzinfo=dt.UTC)
DURING = dt.datetime(2026, 12, 3, 10, 12, tzinfo=dt.UTC)
CLOSED = dt.datetime(2026, 12, 3, 10, 48, tzinfo=dt.UTC)
AFTER = dt.datetime(2026, 12, 3, 11, 0, tzinfo=dt.UTC)

QUARTERLY = intervals.Terms(
    every=13,
    unit="weeks",
    weekday=4,
    anchor=dt.date(2026, 12, 3),
    time=dt.time(10, 0),
    minutes=50,
    zone="Europe/London",
    place="Pier office, upstairs",
)
WEEKLY = replace(QUARTERLY, every=1, weekday=3, anchor=dt.date(2026, 12, 2), minutes=30)


def make_line(
    manager: Person,
    report: Person,
    *,
    terms: intervals.Terms = QUARTERLY,
    actor: Person | None = None,
    now: dt.datetime = MADE,
) -> Line:
    """A joined line from the day of ``now`` on, made by its manager or by ``actor``."""
    made = lines.create(
        actor=actor or manager, now=now, today=now.date(), terms=terms, manager=manager, report=report
    )
    return made.line


def invite_report(
    manager: Person, name: str = "Noor Haldane", *, email: str = "noor@example.org", now: dt.datetime = MADE
) -> lines.Made:
    """A line with a report who is invited and has not joined yet, with the token of the invitation."""
    return lines.create(
        actor=manager,
        now=now,
        today=now.date(),
        terms=QUARTERLY,
        manager=manager,
        invited=lines.Invited(name=name, email=email, side=Side.REPORT),
    )


def make_topic(
    line: Line,
    actor: Person,
    title: str = "Crane slot at the Skerry pontoon",
    *,
    now: dt.datetime = MADE,
    importance: str | None = None,
    must: bool = False,
    minutes: int | None = None,
    kind: str = Topic.Kind.UPDATE,
    outcome_wanted: str = Topic.Outcome.INFORM,
    every_nth: int | None = None,
) -> Topic:
    """A topic that one side adds."""
    wording = topics.Wording(
        title=title, kind=kind, minutes_wanted=minutes, outcome_wanted=outcome_wanted, every_nth=every_nth
    )
    return topics.add(line=line, wording=wording, actor=actor, now=now, importance=importance, must=must)


def placement_of(topic: Topic) -> Placement:
    """Where a topic is placed, undecided, at this moment."""
    return topic.placements.select_related("meeting__line", "topic").get(outcome="undecided")


def coming_of(line: Line) -> Meeting:
    """The line's earliest coming meeting."""
    meeting = coming_meetings.earliest(line)
    assert meeting is not None
    return meeting


@pytest.fixture
def line(manager: Person, report: Person, administrator: Person) -> Line:
    """Ines and Tomas, joined, confirmed by the administrator; their first meeting is on 3 December."""
    return make_line(manager, report, actor=administrator)


@pytest.fixture
def peer_line(manager: Person, peer: Person, administrator: Person) -> Line:
    """Ines and Maja, on the same interval."""
    return make_line(manager, peer, actor=administrator)


@pytest.fixture
def other_line(other_manager: Person, other_report: Person, administrator: Person) -> Line:
    """Henrik and Leila: nothing to do with Ines or Tomas."""
    return make_line(other_manager, other_report, actor=administrator)


@pytest.fixture
def lead_line(lead: Person, manager: Person, administrator: Person) -> Line:
    """Ruth and Ines: with it Ruth is the lead of Ines's lines."""
    return make_line(lead, manager, actor=administrator)


@pytest.fixture
def other_lead_line(lead: Person, other_manager: Person, administrator: Person) -> Line:
    """Ruth and Henrik: with it Ruth is the lead of Henrik's lines."""
    return make_line(lead, other_manager, actor=administrator)


@pytest.fixture
def former_line(former_manager: Person, report: Person, administrator: Person) -> Line:
    """Pavel and Tomas, ended on 30 October: Tomas was transferred to Ines."""
    made = make_line(former_manager, report, actor=administrator)
    gone = dt.datetime(2026, 10, 30, 16, 0, tzinfo=dt.UTC)
    return lines.end(line=made, actor=administrator, now=gone, today=gone.date())


@pytest.fixture
def meeting(line: Line) -> Meeting:
    """The coming meeting of Ines and Tomas, planned for 3 December, without topics."""
    return coming_of(line)


@dataclass(frozen=True)
class Brought:
    """What both sides bring: two topics of the manager's, three of the report's."""

    crane: Topic
    sundays: Topic
    sheet: Topic
    deckhands: Topic
    licence: Topic


@pytest.fixture
def brought(line: Line, manager: Person, report: Person) -> Brought:
    """Topics from both sides on the coming agenda, 42 minutes in all."""
    kind, outcome = Topic.Kind, Topic.Outcome
    return Brought(
        crane=make_topic(
            line, manager, kind=kind.OBSTACLE, minutes=12, outcome_wanted=outcome.DECIDE, importance="first"
        ),
        sundays=make_topic(line, manager, "Who covers the Sunday boats in winter"),
        sheet=make_topic(
            line, report, "One sheet for the shift handover", kind=kind.IDEA, outcome_wanted=outcome.ADVISE
        ),
        deckhands=make_topic(line, report, "Both new deckhands signed off", kind=kind.ACHIEVEMENT),
        licence=make_topic(line, report, "Time for the crane licence", kind=kind.GROWTH, minutes=10),
    )


@pytest.fixture
def issued_meeting(meeting: Meeting, brought: Brought, manager: Person, now: dt.datetime) -> Meeting:
    """The meeting of 3 December with its order issued by Ines at ``now``."""
    issuing.issue(meeting=meeting, actor=manager, now=now)
    meeting.refresh_from_db()
    return meeting


@pytest.fixture
def under_way_meeting(
    issued_meeting: Meeting, brought: Brought, manager: Person, held_clock: dt.datetime
) -> Meeting:
    """The same meeting, begun on time and at its first topic; the clock stands at 10:12 on 3 December."""
    meetings.start(meeting=issued_meeting, actor=manager, now=STARTS)
    meetings.go_on(
        meeting=issued_meeting,
        to=placement_of(brought.crane),
        continues=False,
        actor=manager,
        now=STARTS + dt.timedelta(minutes=4),
    )
    clock.hold_at(DURING)
    return issued_meeting


@dataclass(frozen=True)
class TakenOn:
    """The commitments of the closed meeting: one of each owner, and one offered to Tomas."""

    managers: Commitment
    reports: Commitment
    offered: Commitment


@pytest.fixture
def taken_on(under_way_meeting: Meeting, manager: Person, report: Person) -> TakenOn:
    """Commitments written down while the meeting is under way."""
    line = under_way_meeting.line

    def take_on(owner: Side, action: str, date: dt.date, actor: Person) -> Commitment:
        return commitments.take_on(
            line=line,
            owner_side=owner,
            action=action,
            how_known="It hangs on the board in the pier office.",
            date=date,
            actor=actor,
            now=DURING,
            meeting=under_way_meeting,
        )

    return TakenOn(
        managers=take_on(Side.MANAGER, "Ask the harbour for a crane slot", dt.date(2026, 12, 17), manager),
        reports=take_on(Side.REPORT, "Draft the handover sheet", dt.date(2027, 1, 14), report),
        offered=take_on(Side.REPORT, "Book the licence course", dt.date(2027, 2, 1), manager),
    )


@pytest.fixture
def closed_meeting(
    under_way_meeting: Meeting, taken_on: TakenOn, brought: Brought, manager: Person, report: Person
) -> Meeting:
    """The same meeting, closed at 10:48 with a record; the clock stands at 11:00 on 3 December.

    The crane and the sheet were discussed; the other three topics were not reached, and are on the next
    agenda.
    """
    crane, sheet = placement_of(brought.crane), placement_of(brought.sheet)
    record.write(
        meeting=under_way_meeting,
        placement=crane,
        kind="said",
        words="The harbour gives slots a month ahead only.",
        actor=report,
        now=DURING,
    )
    record.write(
        meeting=under_way_meeting,
        placement=crane,
        kind="decided",
        words="Ask for the second week of January.",
        actor=manager,
        now=DURING,
    )
    meetings.go_on(meeting=under_way_meeting, to=sheet, continues=False, actor=manager, now=DURING)
    meetings.close(meeting=under_way_meeting, actor=manager, now=CLOSED)
    clock.hold_at(AFTER)
    return under_way_meeting


@pytest.fixture
def next_meeting(closed_meeting: Meeting) -> Meeting:
    """The meeting after the closed one, on 4 March 2027."""
    return coming_of(closed_meeting.line)


IN_A_WEEK = dt.date(2026, 12, 2)


def take_on(line: Line, actor: Person, now: dt.datetime, **changes: object) -> Commitment:
    """A commitment of the actor's own, due in a week, but for what is said otherwise."""
    values: dict[str, object] = {
        "line": line,
        "owner_side": line.side_of(actor),
        "action": "Ask the harbour office for the crane",
        "how_known": "The slot is in the berth plan",
        "date": IN_A_WEEK,
        "actor": actor,
        "now": now,
        **changes,
    }
    return commitments.take_on(**values)  # type: ignore[arg-type]


def undecided_at(meeting: Meeting) -> set[str]:
    """The titles of the topics that still ask for time there."""
    return {row.topic.title for row in planner_input.undecided(meeting)}


def times_carried(commitment: Commitment, owner: Person, now: dt.datetime) -> int:
    """How often its owner sees that it was carried."""
    (view,) = commitments_selector.these(owner, [commitment.pk], now=now)
    return view.times_carried


def titles_of(brought: Brought) -> set[str]:
    return {topic.title for topic in vars(brought).values()}
