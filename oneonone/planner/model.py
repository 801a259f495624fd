"""What goes into the planner and what comes out: topics, the meeting's frame, and the boxed order."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from math import ceil

from oneonone.planner.reasons import Reason

SIDES = ("manager", "report")


@dataclass(frozen=True, slots=True)
class Item:
    """A topic that may be discussed.

    Minutes are whole and count from the meeting's start. `wanted` and `least` are the most and the fewest
    minutes it is boxed for; `asked` is what its raiser asked before calibration, if that differs. `side` is
    "manager", "report" or None for both. `after` names topics that must be chosen and come earlier. `start`
    pins its first minute; `not_before` and `by` bound its first and last. Checked by `plan`, not here.
    """

    key: str
    side: str | None
    wanted: int
    least: int
    worth: int
    must: bool = False
    after: tuple[str, ...] = ()
    not_before: int | None = None
    by: int | None = None
    start: int | None = None
    sensitive: bool = False
    asked: int | None = None


@dataclass(frozen=True, slots=True)
class Frame:
    """The meeting around the topics.

    `opening` and `closing` minutes at its ends hold no topic, and `slack` minutes (rounded up) stay free.
    `floors` gives a side its least share of the minutes discussed. `beta` is the part of its worth a topic
    has at its least useful minutes. Topics named in `order` keep that order, whatever it costs. `kappa` is
    the worth of keeping a topic that was in the previous plan, `mu` the cost of two topics changing places.
    """

    minutes: int
    opening: int = 0
    closing: int = 0
    slack: int | Fraction = 0
    floors: Mapping[str, Fraction] | None = None
    beta: Fraction = Fraction(7, 10)
    order: tuple[str, ...] = ()
    kappa: int = 0
    mu: int = 0

    @property
    def end(self) -> int:
        """The minute by which every topic is over."""
        return self.minutes - self.closing

    @property
    def room(self) -> int:
        """The minutes that topics can fill: all but opening, closing and slack."""
        return self.minutes - self.opening - self.closing - ceil(self.slack)


@dataclass(frozen=True, slots=True)
class Slot:
    """A topic's place: first minute, the minute it is over, why there (`reason`) and why that long."""

    key: str
    start: int
    end: int
    reason: Reason
    length: Reason

    @property
    def minutes(self) -> int:
        return self.end - self.start


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A topic kept for next time, and the constraint that kept it out."""

    key: str
    reason: Reason


@dataclass(frozen=True, slots=True)
class Plan:
    """The boxed order.

    `worth` is exact and holds nothing for keeping topics of a previous plan. `cost` is the sum of each
    topic's worth times the minute it is over, and `mu` for each pair that changed places. A gap is 0 when
    the choice or the order is proven best, else (bound - found) / found for the set and (found - bound) /
    bound for the order. `infeasible` is None or a sentence; then `shortage` and `ways_out` say it in parts.
    """

    slots: tuple[Slot, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    worth: Fraction = Fraction(0)
    cost: int = 0
    set_gap: Fraction = Fraction(0)
    order_gap: Fraction = Fraction(0)
    relaxed: tuple[Reason, ...] = ()
    infeasible: str | None = None
    shortage: Reason | None = None
    ways_out: tuple[Reason, ...] = field(default=())

    @property
    def keys(self) -> tuple[str, ...]:
        """The chosen topics in order."""
        return tuple(slot.key for slot in self.slots)

    def slot(self, key: str) -> Slot | None:
        """The slot of that topic, or None if it is left out."""
        return next((slot for slot in self.slots if slot.key == key), None)
