"""The best choice of a core: decisions part by part, kept by what they leave, each at its least loss.

Dynamic programming with bounds: a label that cannot end below the limit is dropped (Morin & Marsten,
Operations Research 24, 1976), and so is one that leaves no more than another and loses no less (Weingartner
& Ness, Operations Research 15, 1967). Once a floor's side is decided, what it leaves is no more than a bound
on the minutes to come.
"""

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from operator import add, itemgetter

from oneonone.planner.core import Core, Ties
from oneonone.planner.parts import Part, parts_of

MANY = 20
"""Fewer labels are not compared with each other."""

FEW = 60
"""Labels kept of each stage once too many have been made."""

Balances = tuple[int, ...]
"""What is spare in each floor."""

Label = tuple[int, int, int, Balances, int, int, "Label | None"]
"""What is lost if nothing that is left gets used; what decisions have lost; minutes left; balances; topics in
that later ones need; the minutes decided on last; and the label before."""

Stage = dict[tuple[int, ...], Label]
"""Labels by what matters to open topics: those in that they need, minutes allowed, balances."""

Move = tuple[int, int, int, Balances, int]
"""What a decision adds to the first two numbers of a label; its minutes, their balances, its topic's bit."""


@dataclass(slots=True)
class Ahead:
    """What is known of the parts from a place on.

    They hold `members`, take at least `low` and at most `high` minutes, add at least `poor` and at most
    `rich` to the balances, and need topics of `live`.
    """

    members: int
    low: int
    high: int
    poor: Balances
    rich: Balances
    live: int

    def with_part(self, part: Part, weights: Sequence[int]) -> "Ahead":
        """With the part before them."""
        minutes = part.minutes
        low, high = min(minutes), max(minutes)
        return Ahead(
            self.members | sum([1 << topic.topic for topic in part.topics]),
            self.low + low,
            self.high + high,
            tuple([b + w * (low if w > 0 else high) for b, w in zip(self.poor, weights, strict=True)]),
            tuple([b + w * (high if w > 0 else low) for b, w in zip(self.rich, weights, strict=True)]),
            (self.live | sum([1 << j for j, _ in part.ties])) & ~(1 << part.member),
        )


@dataclass(slots=True)
class Step:
    """The decisions on one part, which may hang on topics in, and what comes behind it."""

    enter: Sequence[Move]
    leave: Move | None
    ties: Ties
    ahead: Ahead

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
        self.parts = parts_of(core)
        self.made = sum(len(part.points) for part in self.parts)
        self.ended = True

    def best(self) -> dict[int, int] | None:
        """The minutes of the choice of least loss; None if none is found below the limit."""
        if not all(part.minutes for part in self.parts):
            return None
        core, prices = self.core, self.prices
        left = core.losses.room - sum(core.fixed.values())
        balances = tuple([floor.balance(core.fixed) for floor in self.floors])
        short = core.loss + prices.room * left
        short += sum([price * b for price, b in zip(prices.floors, balances, strict=True)])
        stage: Stage = {(): (short, core.loss, left, balances, 0, 0, None)}
        grow = self._with_floors if self.floors else self._in_room
        for step in self._steps():
            stage = grow(step, stage)
            self.made += len(stage)
            if self.made > self.most and len(stage) > FEW:
                self.ended = False
                stage = dict(sorted(stage.items(), key=lambda entry: entry[1][1])[:FEW])
        return self._traced(min(stage.values(), key=lambda label: label[0])) if stage else None

    def _traced(self, label: Label) -> dict[int, int]:
        """The minutes of the topics behind a label."""
        minutes = dict(self.core.fixed)
        for part in reversed(self.parts):
            minutes |= part.decided(label[5])
            label = label[6] or label
        return minutes

    def _steps(self) -> list[Step]:
        """The steps of the parts, after one without a part at which the start is looked at."""
        none = (0,) * len(self.floors)
        ahead = Ahead(0, 0, 0, none, none, 0)
        steps = []
        for part in reversed(self.parts):
            i = part.member
            weights = [floor.weight(i) for floor in self.floors]
            minute, bit = self.core.losses.minute_price[i], 0 if part.points else 1 << i
            enter = [
                (lost - minute * d, lost, d, tuple([w * d for w in weights]) if weights else none, bit)
                for lost, d in part.lengths
            ]
            leave = None if part.leave is None else (part.leave, part.leave, 0, none, 0)
            steps.append(Step(enter, leave, part.ties, ahead))
            ahead = ahead.with_part(part, weights)
        steps.append(Step([], (0, 0, 0, none, 0), (), ahead))
        return steps[::-1]

    def _grown(self, step: Step, stage: Stage) -> Iterator[Label]:
        """The labels after one more part that have not lost too much, and leave what later parts take."""
        limit, low, live, ties, moves = (
            self.core.limit,
            step.ahead.low,
            step.ahead.live,
            step.ties,
            step.moves(0),
        )
        for label in stage.values():
            short, loss, left, balances, inside = label[:5]
            for change, lost, d, shift, one in step.moves(inside) if ties else moves:
                if loss + lost < limit and left - d >= low:
                    after = tuple(map(add, balances, shift)) if shift and d else balances
                    yield short + change, loss + lost, left - d, after, (inside | one) & live, d, label

    def _in_room(self, step: Step, stage: Stage) -> Stage:
        """The labels after one more part, where the room is the only rule."""
        following: Stage = {}
        price, limit, high = self.prices.room, self.core.limit, step.ahead.high
        for label in self._grown(step, stage):
            left = label[2]
            if left <= high or label[1] + price * (left - high) < limit:
                key = label[4], left
                known = following.get(key)
                if known is None or label[0] < known[0]:
                    following[key] = label
        return following

    def _with_floors(self, step: Step, stage: Stage) -> Stage:
        """The labels after one more part, under floors."""
        following: Stage = {}
        ahead, price, limit = step.ahead, self.prices.room, self.core.limit
        floors = list(zip(self.prices.floors, ahead.poor, ahead.rich, strict=True))
        waiting = [k for k, floor in enumerate(self.floors) if floor.members & ahead.members]
        decided = [(k, floor.others) for k, floor in enumerate(self.floors) if k not in waiting]
        counted = itemgetter(*waiting) if waiting else None
        for label in self._grown(step, stage):
            bound, left, balances = label[1:4]
            for (of_balance, poor, rich), balance in zip(floors, balances, strict=True):
                if balance + rich < 0:
                    break
                if balance + poor > 0:
                    bound += of_balance * (balance + poor)
            else:
                allowed = left
                for k, others in decided:
                    if balances[k] < allowed * others:
                        allowed = balances[k] // others
                if bound + price * (left - min(allowed, ahead.high)) < limit:
                    key = label[4], allowed, counted(balances) if counted else 0
                    known = following.get(key)
                    if known is None or label[0] < known[0]:
                        following[key] = label
        return following if len(following) <= MANY or len(waiting) > 1 else _undominated(following)


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
