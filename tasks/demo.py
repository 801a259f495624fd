"""The demo's clock, moved on by hand: on the way every job runs at every instant, as it does by itself."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from accounts.models import Person
from oneonone import clock
from oneonone.selectors.notices import due_instants
from oneonone.selectors.notices.due_instants import Fell

from . import schedule

STEPS: dict[str, dt.timedelta] = {
    "minutes": dt.timedelta(minutes=5),
    "day": dt.timedelta(days=1),
    "week": dt.timedelta(days=7),
}
EVENT, MEETING = "event", "meeting"
# Without any event for so long, none is in sight.
FURTHEST = dt.timedelta(days=92)
# Of instants on the way, which keeps one request short; what is left is done at the end of the step.
MOST_INSTANTS = 120


@dataclass(frozen=True)
class MovedOn:
    """Where the clock stands now, and what fell due on the way."""

    now: dt.datetime
    fell: Fell


def move_on(step: str, *, reader: Person | None = None) -> MovedOn:
    """Move the shared clock on: by five minutes, a day or a week, to the next event, or to the next meeting.

    An event is an instant at which something happens by itself. The next meeting is the next unstarted one of
    ``reader``, or of anybody where they have none; the clock stops as it should begin. Refused by
    ``clock.ClockIsReal`` outside the demo, and by KeyError for another step.
    """
    began = clock.now()
    until = _end_of(step, began, reader)
    # What fell due before the step is no part of what it brings.
    schedule.run_once(began)
    for _ in range(MOST_INSTANTS):
        instant = due_instants.next_instant(clock.now())
        if instant is None or instant > until:
            break
        _go_to(instant)
        if step == EVENT and not (fell := due_instants.fell(began, instant)).nothing:
            return MovedOn(clock.now(), fell)
    if step != EVENT:
        _go_to(until)
    now = clock.now()
    return MovedOn(now, due_instants.fell(began, now))


def _end_of(step: str, began: dt.datetime, reader: Person | None) -> dt.datetime:
    if step == EVENT:
        return began + FURTHEST
    if step == MEETING:
        return due_instants.next_start(began, reader) or began
    return began + STEPS[step]


def _go_to(instant: dt.datetime) -> None:
    """Put the clock at an instant, if it is not there by itself already, and do what is due then."""
    clock.move_on(max(instant - clock.now(), dt.timedelta(0)))
    schedule.run_once(instant)
