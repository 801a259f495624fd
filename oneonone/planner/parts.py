"""The parts of a core that are decided one after another: tied topics, and the loose ones of a side as one.

Loose topics share nothing but minutes with others. So those of one side are decided on their own, each number
of minutes at its least loss, and then come in together as if they were one topic of many lengths.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

from oneonone.planner.core import Core, Open, Ties
from oneonone.planner.losses import Length

Point = tuple[int, int, "Point | None"]
"""What decisions on loose topics have lost, the minutes of the last of them, and the point before."""


@dataclass(slots=True)
class Part:
    """A tied topic, or loose ones together (then with `points` by minutes), as `Open` says of one topic."""

    topics: Sequence[Open]
    lengths: Sequence[Length]
    leave: int | None
    ties: Ties
    points: dict[int, Point] = field(default_factory=dict)

    @property
    def member(self) -> int:
        """One of its topics, whose side all are of."""
        return self.topics[0].topic

    @property
    def minutes(self) -> list[int]:
        """All that it can take; nothing if there is no way to decide it."""
        return [d for _, d in self.lengths] + ([] if self.leave is None else [0])

    def decided(self, minutes: int) -> dict[int, int]:
        """The minutes of each topic that is in, when it takes so many in all."""
        if not self.points:
            return {self.member: minutes} if minutes else {}
        found, point = {}, self.points[minutes]
        for topic in reversed(self.topics):
            if point[1]:
                found[topic.topic] = point[1]
            point = point[2] or point
        return found


def parts_of(core: Core) -> list[Part]:
    """Side by side, so that a floor is soon settled: tied topics one by one, then the loose ones together."""
    parts = []
    for tied, loose in zip(core.tied, core.loose, strict=True):
        parts += [Part((one,), one.lengths, one.leave, one.ties) for one in tied]
        if len(loose) == 1:
            parts.append(Part(loose, loose[0].lengths, loose[0].leave, ()))
        elif loose:
            points = _points(core, loose)
            lengths = sorted((point[0], used) for used, point in points.items())
            parts.append(Part(loose, lengths, None, (), points))
    return parts


def _points(core: Core, loose: Sequence[Open]) -> dict[int, Point]:
    """By the minutes that loose topics of one side take in all, the least that decisions on them lose."""
    limit, left = core.limit, core.losses.room - sum(core.fixed.values())
    points: dict[int, Point] = {0: (0, 0, None)}
    for topic in loose:
        moves = [*topic.lengths] if topic.leave is None else [*topic.lengths, (topic.leave, 0)]
        following: dict[int, Point] = {}
        for used, point in points.items():
            for lost, d in moves:
                loss = point[0] + lost
                if loss < limit and used + d <= left:
                    known = following.get(used + d)
                    if known is None or loss < known[0]:
                        following[used + d] = loss, d, point
        points = following
    return points
