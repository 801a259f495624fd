"""The best choice of a core: decisions topic by topic, kept by what they leave, each at its least loss.

Dynamic programming with bounds: a label that cannot end below the limit is dropped (Morin & Marsten,
Operations Research 24, 1976), and so is one that leaves no more than another and loses no less (Weingartner &
Ness, Operations Research 15, 1967). Once a floor's side is decided, what it leaves is no more than a bound on
the minutes to come.
"""

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from operator import add, itemgetter

from oneonone.planner.core import Core, Open, Ties

MANY = 20
"""Fewer labels are not compared with each other."""

FEW = 60
"""Labels kept of each stage once too many have been made."""

Balances = tuple[int, ...]
"""What is spare in each floor."""

Label = tuple[int, int, int, Balances, int, int, "Label | None"]
"""What is lost if nothing that is left gets used; what decisions have lost; minutes left; balances; topics in
that later ones need; the minutes of the topic decided last; and the label before."""

Stage = dict[tuple[int, ...], Label]
"""Labels by what matters to open topics: those in that they need, minutes allowed, balances."""

Move = tuple[int, int, int, Balances, int]
"""What a decision adds to the first two numbers of a label; its minutes, their balances, its topic's bit."""


@dataclass(slots=True)
class Place:
    """One topic's decisions, and what is known of the topics behind it.

    Those take at least `low` and at most `high` minutes, add at least `poor` and at most `rich` to the
    balances, and need topics of `live`. `open` are the floors whose side has topics among them, `shut` the
    others.
    """

    enter: Sequence[Move]
    leave: Move | None
    ties: Ties
    low: int
    high: int
    live: int
    poor: Balances
    rich: Balances
    open: Sequence[int]
    shut: Sequence[int]

    def moves(self, inside: int) -> Sequence[Move]:
        """The decisions when those topics are in."""
        enter, leave = self.enter, self.leave
        price = 0
        for j, of_need in self.ties:
            if inside >> j & 1:
                price += of_need
            else:
                enter = ()
        if leave is None:
            return enter
        return [*enter, (leave[0] + price, leave[1] + price, *leave[2:])]


class Labels:
    """The choices of a core that lose less than its limit.

    Once more than `most` labels are `made` only few go on from each stage, and `ended` is false.
    """

    def __init__(self, core: Core, most: int) -> None:
        self.core, self.most = core, most
        self.floors, self.prices = core.losses.floors, core.losses.prices
        self.made = 0
        self.ended = True

    def best(self) -> dict[int, int] | None:
        """The minutes of the choice of least loss; None if none is found below the limit."""
        core, prices = self.core, self.prices
        left = core.losses.room - sum(core.fixed.values())
        balances = tuple([floor.balance(core.fixed) for floor in self.floors])
        short = core.loss + prices.room * left
        short += sum([price * b for price, b in zip(prices.floors, balances, strict=True)])
        stage: Stage = {(): (short, core.loss, left, balances, 0, 0, None)}
        step = self._with_floors if self.floors else self._in_room
        for place in self._places():
            stage = step(place, stage)
            self.made += len(stage)
            if self.made > self.most and len(stage) > FEW:
                self.ended = False
                stage = dict(sorted(stage.items(), key=lambda entry: entry[1][1])[:FEW])
        return self._traced(min(stage.values(), key=lambda label: label[0])) if stage else None

    def _traced(self, label: Label) -> dict[int, int]:
        minutes = dict(self.core.fixed)
        for topic in reversed(self.core.line):
            if label[5]:
                minutes[topic.topic] = label[5]
            label = label[6] or label
        return minutes

    def _places(self) -> list[Place]:
        """The places of the core, after one without a topic at which the start is looked at."""
        none = (0,) * len(self.floors)
        low = high = live = 0
        poor = rich = none
        members = 0
        places = []
        for topic in reversed((None, *self.core.line)):
            enter, leave = self._moves(topic)
            open_ = [k for k, floor in enumerate(self.floors) if floor.members & members]
            shut = [k for k in range(len(self.floors)) if k not in open_] if self.floors else open_
            ties = topic.ties if topic else ()
            places.append(Place(enter, leave, ties, low, high, live, poor, rich, open_, shut))
            if topic is None:
                break
            members |= 1 << topic.topic
            for j, _ in ties:
                live |= 1 << j
            live &= ~(1 << topic.topic)
            ends = [d for _, d in topic.lengths[:1]] + [d for _, d in topic.lengths[-1:]]
            if topic.leave is not None:
                ends.append(0)
            least, most = min(ends), max(ends)
            low, high = low + least, high + most
            if self.floors:
                weights = [floor.weight(topic.topic) for floor in self.floors]
                poor = tuple([b + w * (least if w > 0 else most) for b, w in zip(poor, weights, strict=True)])
                rich = tuple([b + w * (most if w > 0 else least) for b, w in zip(rich, weights, strict=True)])
        return places[::-1]

    def _moves(self, topic: Open | None) -> tuple[Sequence[Move], Move | None]:
        """Every length of a topic, and leaving it out."""
        none = (0,) * len(self.floors)
        if topic is None:
            return [], (0, 0, 0, none, 0)
        i = topic.topic
        minute = self.core.losses.minute_price[i]
        weights = [floor.weight(i) for floor in self.floors]
        enter = [
            (lost - minute * d, lost, d, tuple([weight * d for weight in weights]), 1 << i)
            for lost, d in topic.lengths
        ]
        return enter, None if topic.leave is None else (topic.leave, topic.leave, 0, none, 0)

    def _grown(self, place: Place, stage: Stage) -> Iterator[Label]:
        """The labels after one more topic that have not lost too much, and leave what later topics take."""
        limit, low, live, ties, moves = self.core.limit, place.low, place.live, place.ties, place.moves(0)
        for label in stage.values():
            short, loss, left, balances, inside = label[:5]
            for change, lost, d, shift, one in place.moves(inside) if ties else moves:
                if loss + lost < limit and left - d >= low:
                    after = tuple(map(add, balances, shift)) if shift and d else balances
                    yield short + change, loss + lost, left - d, after, (inside | one) & live, d, label

    def _in_room(self, place: Place, stage: Stage) -> Stage:
        """The labels after one more topic, where the room is the only rule."""
        following: Stage = {}
        price, limit, high = self.prices.room, self.core.limit, place.high
        for label in self._grown(place, stage):
            left = label[2]
            if left <= high or label[1] + price * (left - high) < limit:
                key = label[4], left
                known = following.get(key)
                if known is None or label[0] < known[0]:
                    following[key] = label
        return following

    def _with_floors(self, place: Place, stage: Stage) -> Stage:
        """The labels after one more topic, under floors."""
        following: Stage = {}
        price, limit, high = self.prices.room, self.core.limit, place.high
        floors = list(zip(self.prices.floors, place.poor, place.rich, strict=True))
        shut = [(k, self.floors[k].others) for k in place.shut]
        counted = itemgetter(*place.open) if place.open else None
        for label in self._grown(place, stage):
            bound, left, balances = label[1:4]
            for (of_balance, poor, rich), balance in zip(floors, balances):  # noqa: B905
                if balance + rich < 0:
                    break
                if balance + poor > 0:
                    bound += of_balance * (balance + poor)
            else:
                allowed = left
                for k, others in shut:
                    if balances[k] < allowed * others:
                        allowed = balances[k] // others
                if bound + price * (left - min(allowed, high)) < limit:
                    key = label[4], allowed, counted(balances) if counted else 0
                    known = following.get(key)
                    if known is None or label[0] < known[0]:
                        following[key] = label
        return following if len(following) <= MANY or len(place.open) > 1 else _undominated(following)


def _undominated(stage: Stage) -> Stage:
    """The labels that leave more, or lose less, than any other with the same topics in.

    By falling minutes, labels of the same topics stand on a front of falling balances and falling losses.
    """
    kept: Stage = {}
    fronts: dict[int, tuple[list[int], list[int]]] = {}
    for key in sorted(stage, reverse=True):
        inside, _, balance = key
        short = stage[key][0]
        missing, losses = fronts.setdefault(inside, ([], []))
        at = bisect_right(missing, -balance)
        if at and losses[at - 1] <= short:
            continue
        kept[key] = stage[key]
        end = at
        while end < len(losses) and losses[end] >= short:
            end += 1
        missing[at:end] = [-balance]
        losses[at:end] = [short]
    return kept
