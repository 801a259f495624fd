"""What goes into the planner and what comes out: topics, the meeting around them, and the boxed order."""

from dataclasses import dataclass
from fractions import Fraction

from oneonone.planner.reasons import Reason

SIDES = ("manager", "report")

FIRST, IN_TURN, IF_TIME = 0, 1, 2
"""The three ranks, highest first."""


@dataclass(frozen=True, slots=True)
class Item:
    """A topic that may be discussed.

    `wanted` and `least` are whole minutes, already multiplied by the calibrated factor; `asked` are those
    wanted before that, for reasons only. `side` is "manager", "report" or None for both. `rank` is FIRST,
    IN_TURN or IF_TIME; a topic that `must` be discussed counts as FIRST. `worth` compares topics of one rank.
    `by_hand`: somebody put it in. `after` are the keys of topics it needs: they have to be in, and
    earlier. `start` is the first minute that both agreed on, counted from the meeting's first. Of equal
    topics the one with the smaller `tiebreak`, then the smaller key, is earlier. Checked by `plan`, not here.
    """

    key: str
    side: str | None
    wanted: int
    least: int
    worth: int
    rank: int = IN_TURN
    must: bool = False
    by_hand: bool = False
    after: tuple[str, ...] = ()
    start: int | None = None
    sensitive: bool = False
    tiebreak: int = 0
    asked: int | None = None

    @property
    def keep(self) -> int:
        """The minutes to discuss it properly: four fifths of those wanted, rounded up, or `least` if more."""
        return max(self.least, -(-4 * self.wanted // 5))


@dataclass(frozen=True, slots=True)
class Frame:
    """The meeting around the topics, in whole minutes.

    The `opening` and `closing` minutes at its ends hold no topic. Topics whose keys stand in `order` keep
    that order among those that are in, as far as possible.
    """

    minutes: int
    opening: int = 0
    closing: int = 0
    order: tuple[str, ...] = ()

    @property
    def end(self) -> int:
        """The minute by which every topic is over."""
        return self.minutes - self.closing

    @property
    def room(self) -> int:
        """The minutes that topics can fill."""
        return self.end - self.opening


@dataclass(frozen=True, slots=True)
class Slot:
    """A topic's place: its first minute, the minute it is over, why it is there and why it is that long."""

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
    """A topic kept for next time, and what kept it out."""

    key: str
    reason: Reason


@dataclass(frozen=True, slots=True)
class Plan:
    """The boxed order.

    `worth` are the sums of the worth of all that is in, by rank. `unproven` is 0 when every step is proven
    best, else the sum of the shares that the other steps might still gain. `given_up` are pairs of keys that
    stand the other way round than `Frame.order` asked. `infeasible` is None, or the shortage when topics that
    must be discussed are left out; then `ways_out` are the cheapest ways to get all of them in.
    """

    slots: tuple[Slot, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    worth: tuple[int, int, int] = (0, 0, 0)
    unproven: Fraction = Fraction(0)
    given_up: tuple[tuple[str, str], ...] = ()
    infeasible: Reason | None = None
    ways_out: tuple[Reason, ...] = ()

    @property
    def keys(self) -> tuple[str, ...]:
        """The topics that are in, in order."""
        return tuple(slot.key for slot in self.slots)

    def slot(self, key: str) -> Slot | None:
        """The slot of that topic, or None if it is left out."""
        return next((slot for slot in self.slots if slot.key == key), None)
