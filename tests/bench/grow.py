"""A tree of reporting lines of any size, with a year of meetings, written straight into the tables.

The services make one line in some milliseconds; a company of ten thousand is made here by bulk inserts, of
rows that the services would have made. Everything follows from the seed: the same size gives the same tree.
"""

from __future__ import annotations

import datetime as dt
import random
from dataclasses import dataclass, field
from uuid import UUID

from accounts.models import Person
from oneonone.models import HeldClaim, Interval, Line, Meeting, Move, Pause

SPAN = 10
ZONE = "Europe/London"
TEN = dt.time(10)
EVERY = (("weeks", 1), ("weeks", 2), ("weeks", 4), ("weeks", 13), ("months", 1), ("months", 3), ("months", 6))
WEIGHTS = (1, 3, 4, 5, 4, 3, 1)
GIVEN = ("Ada", "Bo", "Cleo", "Dov", "Esi", "Finn", "Gus", "Hana", "Ivo", "Juno", "Kit", "Lena", "Milo")
FAMILY = ("Ahlgren", "Brandt", "Castell", "Dorsey", "Engel", "Falk", "Grieve", "Holt", "Ikeda", "Nair")


@dataclass
class Rows:
    """What is to be stored, in the order in which it can be."""

    people: list[Person] = field(default_factory=list)
    lines: list[Line] = field(default_factory=list)
    intervals: list[Interval] = field(default_factory=list)
    pauses: list[Pause] = field(default_factory=list)
    meetings: list[Meeting] = field(default_factory=list)
    moves: list[Move] = field(default_factory=list)
    claims: list[HeldClaim] = field(default_factory=list)

    def store(self) -> None:
        Person.objects.bulk_create(self.people, batch_size=500)
        Line.objects.bulk_create(self.lines, batch_size=500)
        Interval.objects.bulk_create(self.intervals, batch_size=500)
        Pause.objects.bulk_create(self.pauses, batch_size=500)
        Meeting.objects.bulk_create(self.meetings, batch_size=500)
        Move.objects.bulk_create(self.moves, batch_size=500)
        HeldClaim.objects.bulk_create(self.claims, batch_size=500)


def grow(lead: Person, size: int, *, now: dt.datetime, span: int = SPAN, seed: int = 4) -> None:
    """``size`` confirmed lines below ``lead``, up to ``span`` for each manager, with a year of meetings."""
    chance = random.Random(seed)
    rows = Rows()
    managers = [lead]
    for number in range(size):
        name = f"{chance.choice(GIVEN)} {chance.choice(FAMILY)}"
        person = Person(
            email=f"{seed}-{lead.pk.hex[:8]}-{number}@example.org", name=name, date_joined=now, zone=ZONE
        )
        person.password = "!"
        rows.people.append(person)
        _line(rows, chance, managers[number // span], person, now=now)
        managers.append(person)
    rows.store()


def _line(rows: Rows, chance: random.Random, manager: Person, report: Person, *, now: dt.datetime) -> None:
    began = now.date() - dt.timedelta(days=chance.randrange(60, 900))
    line = Line(
        manager=manager,
        report=report,
        start=Line.Start.JOINED,
        starts_on=began,
        created_by=manager,
        created_at=now,
        tree_confirmed_at=now,
    )
    rows.lines.append(line)
    unit, every = chance.choices(EVERY, WEIGHTS)[0]
    step = every * 7 if unit == "weeks" else every * 30
    anchor = began + dt.timedelta(days=chance.randrange(step))
    interval = _interval(line, manager, unit, every, anchor, began, now)
    rows.intervals.append(interval)
    if chance.random() < 0.1:
        first = now.date() - dt.timedelta(days=chance.randrange(20, 200))
        last = first + dt.timedelta(days=30) if chance.random() < 0.7 else None
        rows.pauses.append(Pause(line=line, first=first, last=last, by=manager, at=now))
    silent_from = now.date() - dt.timedelta(days=step * chance.choice((0, 0, 0, 0, 0, 1, 3)))
    _meetings(rows, chance, interval, anchor, step, silent_from, now)


def _interval(
    line: Line, manager: Person, unit: str, every: int, anchor: dt.date, began: dt.date, now: dt.datetime
) -> Interval:
    return Interval(
        line=line,
        effective_from=began,
        every=every,
        unit=unit,
        anchor=anchor,
        weekday=anchor.isoweekday() if unit == "weeks" else None,
        day=anchor.day if unit == "months" else None,
        time=TEN,
        minutes=45,
        zone=ZONE,
        proposed_by=manager,
        proposed_at=now,
        agreed_at=now,
    )


def _meetings(
    rows: Rows,
    chance: random.Random,
    interval: Interval,
    anchor: dt.date,
    step: int,
    silent_from: dt.date,
    now: dt.datetime,
) -> None:
    day = max(anchor, anchor + step * dt.timedelta(days=(now.date() - anchor).days // step - 365 // step))
    while day < now.date():
        state = Meeting.State.CLOSED
        if day > silent_from or chance.random() < 0.04:
            state = chance.choice((Meeting.State.CALLED_OFF, Meeting.State.NOT_HELD))
        meeting = _meeting(interval, day, state, now)
        rows.meetings.append(meeting)
        if chance.random() < 0.08:
            earlier = meeting.starts_at - dt.timedelta(days=min(3, step // 2))
            rows.moves.append(Move(meeting=meeting, from_start=earlier, to_start=meeting.starts_at, at=now))
        if state == Meeting.State.CLOSED and chance.random() < 0.01:
            by = interval.line.report
            rows.claims.append(HeldClaim(meeting=meeting, side="report", held=False, by=by, at=now))
        day += dt.timedelta(days=step)
    if chance.random() < 0.9:
        rows.meetings.append(_meeting(interval, day + dt.timedelta(days=1), Meeting.State.PLANNED, now))


def _meeting(interval: Interval, day: dt.date, state: str, now: dt.datetime) -> Meeting:
    at = dt.datetime.combine(day, TEN, tzinfo=dt.UTC)
    held = state == Meeting.State.CLOSED
    meeting = Meeting(
        line=interval.line,
        interval=interval,
        nominal_date=day,
        occurrence_key=f"{interval.pk}:{day.isoformat()}",
        state=state,
        starts_at=at,
        minutes=interval.minutes,
        zone=ZONE,
        held_on=day if held else None,
        closed_at=at if held else None,
        confirmed_at=at if held or day.toordinal() % 3 == 0 else None,
        created_at=now,
        **dict.fromkeys(("invite_at", "issue_at", "prepare_by_at", "today_at", "record_at"), at),
    )
    meeting.uid = UUID(int=meeting.pk.int).hex
    return meeting
