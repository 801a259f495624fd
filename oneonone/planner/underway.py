"""Planning again while a meeting runs: the same solve on what is left, the running topic in its place."""

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from math import ceil

from oneonone.planner.checks import LONGEST, check
from oneonone.planner.model import Frame, Item, LeftOut, Plan, Slot
from oneonone.planner.reasons import reason
from oneonone.planner.refusals import OutOfRange, UnknownKey
from oneonone.planner.solve import plan


def replan(
    items: Sequence[Item],
    frame: Frame,
    previous: Plan,
    now: int,
    running: str | None = None,
    done: Sequence[str] = (),
) -> Plan:
    """The order of what is left at minute `now`.

    `running` keeps the start it had and its box; once over its box, it takes until now. Topics in `done` are
    neither in the slots nor left out. A delay is first taken from the slack. Raises `PlannerRefusal`.
    """
    check(items, frame)
    _check_now(items, now, running, done)
    current = _running_slot(items, previous, now, running)
    begin = max(now, frame.opening, current.end if current else 0)
    past = {*done, *([running] if running else [])}
    left = [_remaining(item, past) for item in items if item.key not in past]
    if begin >= frame.end:
        rest = _nothing_left(left)
    else:
        slack = _slack_left(frame, previous, begin, past)
        rest = plan(left, replace(frame, opening=begin, slack=slack), previous)
    if current is None:
        return rest
    return replace(rest, slots=(current, *rest.slots))


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


def _remaining(item: Item, past: set[str]) -> Item:
    return replace(item, after=tuple(key for key in item.after if key not in past))


def _slack_left(frame: Frame, previous: Plan, begin: int, past: set[str]) -> int:
    """Slack after the delay against the previous plan has been taken from it."""
    ahead = [slot for slot in previous.slots if slot.key not in past]
    if not ahead:
        return min(ceil(frame.slack), frame.end - begin)
    delay = begin - ahead[0].start
    free = frame.end - previous.slots[-1].end - delay
    return max(0, min(ceil(frame.slack), free, frame.end - begin))


def _nothing_left(left: Sequence[Item]) -> Plan:
    outs = sorted(left, key=lambda item: item.key)
    return Plan(
        left_out=tuple(LeftOut(i.key, reason("no_minutes", least=i.least, free=0)) for i in outs),
        worth=Fraction(0),
    )
