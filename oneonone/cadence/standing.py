"""A line's standing (whether meetings happen as often as agreed) and the day on which its interval ends.

Silence is counted in days since the last meeting held, or since the line began; days of a pause are
not counted. It is within the interval up to and including the day it is due.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from oneonone.cadence.pauses import NEVER, Pause, counted_days, pause_on, stretched
from oneonone.cadence.rule import Rule

Kind = Literal["within", "runs out", "over", "never met", "paused"]

RUNS_OUT_DAYS = 7
RUNS_OUT_SHARE = 4


@dataclass(frozen=True)
class Agreement:
    """The interval that both sides agreed, from a day on."""

    effective_from: date
    rule: Rule


@dataclass(frozen=True)
class Standing:
    """A line's cadence on a day.

    `days` depends on `kind`: within and runs out, the days left (0 on the last one); over, the days
    past, less those paused; never met, the days since the line began; paused, the days since the pause began.
    `silence` is the days not paused since the last meeting held, or since the line began. `due` is
    the last day within the interval; none without an agreement or in a pause without end.
    """

    kind: Kind
    days: int
    silence: int
    last_held: date | None
    due: date | None


def standing(
    agreements: Sequence[Agreement],
    held: Sequence[date],
    began: date,
    today: date,
    pauses: Sequence[Pause] = (),
) -> Standing:
    """A line's cadence on a day, by the intervals agreed up to it. Meetings held later are not counted.

    "Runs out" is said from 7 days before the interval ends, or a quarter of the interval if that is
    shorter (rounded down to days).
    """
    past = [day for day in held if day <= today]
    last_held = max(past) if past else None
    basis = began if last_held is None else last_held
    silent = counted_days(basis, today, pauses)
    due = due_day(agreements, basis, today, pauses)
    pause = pause_on(today, pauses)
    if pause is not None:
        return Standing("paused", (today - pause.first).days, silent, last_held, due)
    if last_held is None:
        return Standing("never met", max(0, (today - began).days), silent, None, due)
    if due is None:
        return Standing("within", 0, silent, last_held, None)
    left = (due - today).days
    if left < 0:
        return Standing("over", counted_days(due, today, pauses), silent, last_held, due)
    if left > RUNS_OUT_DAYS:
        return Standing("within", left, silent, last_held, due)
    notice = min(RUNS_OUT_DAYS, counted_days(basis, due, pauses) // RUNS_OUT_SHARE)
    return Standing("runs out" if left <= notice else "within", left, silent, last_held, due)


def due_day(
    agreements: Sequence[Agreement], basis: date, on: date, pauses: Sequence[Pause] = ()
) -> date | None:
    """The last day within the interval for a silence that began on a day, by what was agreed on another.

    An agreement holds from its first day. A longer interval agreed in mid-silence is counted from the
    last meeting. A shorter one is not held against days before it: it is allowed once from its first
    day, but ends no later than the interval it replaced. None when nothing was agreed, or when a pause
    has no end.
    """
    due: date | None = None
    for agreement in in_force(agreements, basis, on):
        since = max(basis, agreement.effective_from)
        fresh = stretched(since, agreement.rule.allowed_until(since), pauses)
        if due is None:
            due = fresh
        else:
            whole = stretched(basis, agreement.rule.allowed_until(basis), pauses)
            due = max(whole, min(due, fresh))
    return None if due == NEVER else due


def in_force(agreements: Sequence[Agreement], first: date, last: date) -> list[Agreement]:
    """The agreements that held on any day of a period, oldest first."""
    if len(agreements) == 1:
        return [agreement for agreement in agreements if agreement.effective_from <= last]
    ordered = sorted(agreements, key=lambda agreement: agreement.effective_from)
    starts = [agreement.effective_from for agreement in ordered]
    return ordered[max(0, bisect_right(starts, first) - 1) : bisect_right(starts, last)]
