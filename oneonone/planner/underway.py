"""Planning again while a meeting runs: the same solve on what is left, the running topic in its place."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil

from oneonone.planner.checks import LONGEST, check
from oneonone.planner.explain import Difference, difference
from oneonone.planner.model import Frame, Item, Plan, Slot
from oneonone.planner.reasons import Reason, reason
from oneonone.planner.refusals import OutOfRange, UnknownKey
from oneonone.planner.solve import plan


@dataclass(frozen=True, slots=True)
class Advice:
    """What to suggest when a box ends: whether to go on, what a minute more here and elsewhere is worth.

    `displaces` is what changes in the rest of the meeting if the topic takes one minute more.
    """

    go_on: bool
    here: Fraction
    elsewhere: Fraction
    displaces: Difference


def replan(
    items: Sequence[Item],
    frame: Frame,
    previous: Plan,
    now: int,
    running: str | None = None,
    done: Sequence[str] = (),
) -> Plan:
    """The order of what is left at minute `now`, counted from the agreed start.

    `running` keeps the start it had and its box; once over its box, it takes until now, whatever minutes it
    wanted. Topics in `done` are neither in the slots nor left out. A delay is first taken from the slack. An
    agreed start that has passed is lifted, and stated. `worth` and `cost` are those of the topics still to
    come. When nothing fits any more all that is left is left out; if that includes must-discuss topics the
    plan is infeasible, in minutes. Raises `PlannerRefusal`.
    """
    check(items, frame)
    _check_now(items, now, running, done)
    current = _running_slot(items, previous, now, running)
    return _rest(items, frame, previous, current, max(now, current.end if current else 0), done)


def going_on(
    items: Sequence[Item], frame: Frame, previous: Plan, now: int, running: str, done: Sequence[str] = ()
) -> Advice:
    """Whether the running topic should go on for a minute beyond its box, or beyond now.

    Going on is suggested while a minute more here is worth at least what that minute displaces; beyond the
    minutes wanted a minute here is worth nothing. Two solves.
    """
    check(items, frame)
    _check_now(items, now, running, done)
    current = _running_slot(items, previous, now, running)
    if current is None:
        raise UnknownKey("running", "a topic of this meeting")
    item = next(item for item in items if item.key == running)
    moving_on = _rest(items, frame, previous, current, max(now, current.end), done)
    going = _rest(items, frame, previous, current, max(now, current.end) + 1, done)
    span = item.wanted - item.least
    here = (
        Fraction(item.worth) * (1 - frame.beta) / span
        if span and current.minutes < item.wanted
        else Fraction(0)
    )
    elsewhere = moving_on.worth - going.worth
    displaced = difference(moving_on, going, items)
    keeps_must = not going.infeasible or bool(moving_on.infeasible)
    return Advice(keeps_must and here >= elsewhere, here, elsewhere, displaced)


def _rest(
    items: Sequence[Item],
    frame: Frame,
    previous: Plan,
    current: Slot | None,
    begin: int,
    done: Sequence[str],
) -> Plan:
    """The plan of what is left from `begin`, behind the running slot."""
    begin = min(max(begin, frame.opening), frame.end)
    past = {*done, *([current.key] if current else [])}
    left, passed = _remaining(items, past, begin)
    slack = _slack_left(frame, previous, begin, past)
    order = tuple(key for key in frame.order if key not in past)
    rest = plan(left, replace(frame, opening=begin, slack=slack, order=order), previous)
    first = () if current is None else (current,)
    return replace(rest, slots=(*first, *rest.slots), relaxed=(*rest.relaxed, *passed))


def _check_now(items: Sequence[Item], now: int, running: str | None, done: Sequence[str]) -> None:
    if isinstance(now, bool) or not isinstance(now, int) or not 0 <= now <= LONGEST:
        raise OutOfRange("now", f"a whole number of minutes from 0 to {LONGEST}")
    known = {item.key for item in items}
    if running is not None and running not in known:
        raise UnknownKey("running", "a topic of this meeting", running)
    for key in done:
        if key not in known or key == running:
            raise UnknownKey("done", "topics of this meeting that are not running", key)


def _running_slot(items: Sequence[Item], previous: Plan, now: int, running: str | None) -> Slot | None:
    """The running topic's box: the one it had, from a start not in the future, stretched to now."""
    if running is None:
        return None
    item = next(item for item in items if item.key == running)
    old = previous.slot(running)
    start = min(old.start, now) if old else now
    minutes = old.minutes if old else item.wanted
    end = max(start + minutes, now)
    if end > start + minutes:
        length = reason("overrun", minutes=end - start, planned=minutes)
    else:
        length = reason("running_box", minutes=minutes)
    return Slot(running, start, end, reason("running"), length)


def _remaining(items: Sequence[Item], past: set[str], begin: int) -> tuple[list[Item], tuple[Reason, ...]]:
    """The topics still to come, without what is behind them; agreed starts that have passed are lifted."""
    left, passed = [], []
    for item in sorted(items, key=lambda item: item.key):
        if item.key in past:
            continue
        item = replace(item, after=tuple(key for key in item.after if key not in past))
        if item.start is not None and item.start < begin:
            passed.append(reason("slot_passed", item.key, start=item.start))
            item = replace(item, start=None)
        left.append(item)
    return left, tuple(passed)


def _slack_left(frame: Frame, previous: Plan, begin: int, past: set[str]) -> int:
    """Slack after the delay against the previous plan has been taken from it."""
    ahead = [slot for slot in previous.slots if slot.key not in past]
    if not ahead:
        return min(ceil(frame.slack), frame.end - begin)
    delay = begin - ahead[0].start
    free = frame.end - previous.slots[-1].end - delay
    return max(0, min(ceil(frame.slack), free, frame.end - begin))
