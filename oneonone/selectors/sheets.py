"""What the planner is given for one meeting, and the ways it is changed before it is planned."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction

from oneonone import planner
from oneonone.models import Placement
from oneonone.planner import Frame, Item, Plan

# What keeping a topic of the issued order is worth, and what two topics changing places costs: the
# planner's measured values for few moves at little loss.
KAPPA, MU = 3, 60


@dataclass(frozen=True)
class Sheet:
    """What the planner is given for one meeting, and the rows behind it by key.

    ``factors`` are how many times over each kind runs here: minutes asked have been multiplied by them.
    ``by_hand`` are topics that somebody has given a place: they are forced in, though they are nobody's
    must-discuss. ``elders`` are for a topic the equal ones that have waited longer: they stand in its
    ``after``.
    """

    items: tuple[Item, ...]
    frame: Frame
    placements: dict[str, Placement]
    factors: Mapping[str, Fraction] = field(default_factory=dict)
    by_hand: frozenset[str] = frozenset()
    elders: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def plan(self, previous: Plan | None = None) -> Plan:
        """The planner's answer. When must-discuss topics alone are too long it says so, and still orders.

        An order that people can read beats none: then no topic is forced, and ``infeasible`` tells why.
        """
        made = planner.plan(self.items, self.frame, previous)
        if made.infeasible is None:
            return made
        if self.by_hand:
            return self.yielding().plan(previous)
        shown = planner.plan(self.loosened().items, self.frame, previous)
        return replace(shown, infeasible=made.infeasible, shortage=made.shortage, ways_out=made.ways_out)

    def holding(self, keys: Collection[str]) -> Sheet:
        """The same with these topics forced in by hand."""
        free = self
        for key in keys:
            free = free.apart(key)
        items = tuple(replace(item, must=item.must or item.key in keys) for item in free.items)
        here = {item.key for item in self.items if item.key in keys and not item.must}
        return replace(free, items=items, by_hand=self.by_hand | here)

    def letting_go(self, key: str) -> Sheet:
        """The same where this topic is in by hand no longer: the planner may leave it out."""
        if key not in self.by_hand:
            return self
        items = tuple(replace(item, must=item.must and item.key != key) for item in self.items)
        return replace(self, items=items, by_hand=self.by_hand - {key})

    def apart(self, key: str) -> Sheet:
        """The same where this topic and its equals do not wait for each other."""
        elders = {
            one: tuple(other for other in before if key not in (one, other))
            for one, before in self.elders.items()
        }
        items = tuple(replace(item, after=self._after(item, elders)) for item in self.items)
        return replace(self, items=items, elders=elders)

    def waiting_for(self, elders: Mapping[str, tuple[str, ...]]) -> Sheet:
        """The same with each topic behind the equal ones that have waited longer."""
        items = tuple(replace(item, after=(*item.after, *elders.get(item.key, ()))) for item in self.items)
        return replace(self, items=items, elders=elders)

    def _after(self, item: Item, elders: Mapping[str, tuple[str, ...]]) -> tuple[str, ...]:
        gone = set(self.elders.get(item.key, ())) - set(elders.get(item.key, ()))
        return tuple(before for before in item.after if before not in gone)

    def yielding(self) -> Sheet:
        """The same with nothing forced in by hand, so that what must be discussed has the room."""
        items = tuple(replace(item, must=item.must and item.key not in self.by_hand) for item in self.items)
        return replace(self, items=items, by_hand=frozenset())

    def keeping(self) -> Sheet:
        """The same for a plan that leaves an order people prepare against as it is, where it can."""
        return replace(self, frame=replace(self.frame, kappa=KAPPA, mu=MU))

    def loosened(self) -> Sheet:
        """The same without any topic that must be discussed."""
        return replace(self, items=tuple(replace(item, must=False) for item in self.items))
