"""What the steps came to, and the reason of each place, length and topic left out (codes in `reasons`)."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import combinations

from oneonone.planner.gaps import Placement
from oneonone.planner.model import FIRST, IF_TIME, IN_TURN, LeftOut, Slot
from oneonone.planner.problem import Problem
from oneonone.planner.reasons import Reason, reason

LAST_STEP = {FIRST: 2, IN_TURN: 5, IF_TIME: 7}
"""The choice at which a topic of that rank has its last chance, counted from 0 for what must be discussed."""


@dataclass(frozen=True)
class Outcome:
    """What is in, at which step each came, the order of each gap, and pairs changed for a sensitive topic."""

    problem: Problem
    placement: Placement
    came: Mapping[int, int]
    lines: Sequence[Sequence[int]] = ()
    swapped: Mapping[int, int] = field(default_factory=dict)

    @cached_property
    def needed_by(self) -> Mapping[int, list[int]]:
        """For each topic that is in, those that need it, directly or not."""
        inside = sorted(self.placement.minutes)
        return {i: [j for j in inside if i in self.problem.needs_all[j]] for i in inside}

    @cached_property
    def ranks(self) -> Mapping[int, int]:
        """The highest rank of each topic that is in and of those that need it."""
        rank = self.problem.rank
        return {i: min([rank[i], *(rank[j] for j in by)]) for i, by in self.needed_by.items()}

    @cached_property
    def groups(self) -> Mapping[int, int]:
        """Who has the minutes left: 0 FIRST; 1 agreed, by hand, what those need, and IN_TURN; 2 the rest."""
        items = self.problem.items
        lifted = {i for i in self.ranks if items[i].by_hand or items[i].start is not None}
        return {
            i: min(rank, 1) if lifted.intersection([i, *self.needed_by[i]]) else rank
            for i, rank in self.ranks.items()
        }

    @property
    def worth_by_rank(self) -> tuple[int, int, int]:
        sums = [0, 0, 0]
        for i, rank in self.ranks.items():
            sums[rank] += self.problem.worth[i]
        return sums[0], sums[1], sums[2]

    @property
    def given_up(self) -> tuple[tuple[str, str], ...]:
        """The pairs of `Frame.order` that are in and stand the other way round."""
        place = {self.problem.items[i].key: k for k, i in enumerate(i for line in self.lines for i in line)}
        pairs = combinations([key for key in self.problem.frame.order if key in place], 2)
        return tuple((one, other) for one, other in pairs if place[other] < place[one])

    @cached_property
    def slots(self) -> tuple[Slot, ...]:
        """The slots in order."""
        found = []
        for gap, line in zip(self.placement.gaps, self.lines, strict=True):
            clock = gap.start
            for k, i in enumerate(line):
                end = clock + self.placement.minutes[i]
                key = self.problem.items[i].key
                found.append(Slot(key, clock, end, self._place(line, k), self._length(line, i)))
                clock = end
        return tuple(found)

    def _place(self, line: Sequence[int], k: int) -> Reason:
        i, items = line[k], self.problem.items
        item, lifting = items[i], self._lifting(i)
        if item.start is not None:
            return reason("agreed", start=item.start)
        if i in self.swapped:
            return reason("sensitive" if item.sensitive else "for_sensitive", items[self.swapped[i]].key)
        if item.must:
            return reason("must")
        if lifting is not None:
            return reason("needed", items[lifting].key)
        if item.rank == FIRST:
            return reason("first")
        return reason("by_hand") if item.by_hand else self._among_others(line, k)

    def _lifting(self, i: int) -> int | None:
        """A topic that needs this one and gives it a higher rank or group than its own."""
        item = self.problem.items[i]
        if self.groups[i] == min(item.rank, 1 if item.by_hand else item.rank):
            return None
        lifting = [j for j in self.needed_by[i] if self.groups[j] == self.groups[i]]
        return min(lifting, key=lambda j: (i not in self.problem.needs[j], j), default=None)

    def _among_others(self, line: Sequence[int], k: int) -> Reason:
        """Why a topic stands before the next one of its gap, or after the one ahead."""
        problem, minutes, worth = self.problem, self.placement.minutes, self.problem.worth
        i, following = line[k], line[k + 1 : k + 2]
        for j in following:
            numbers = {"worth": worth[i], "minutes": minutes[i]}
            numbers |= {"next_worth": worth[j], "next_minutes": minutes[j]}
            here, there = worth[i] * minutes[j], worth[j] * minutes[i]
            if self.ranks[i] == self.ranks[j] and here >= there:
                return reason("denser" if here > there else "as_dense", problem.items[j].key, **numbers)
            if i in problem.needs_all[j]:
                return reason("before", problem.items[j].key)
            if (i, j) in problem.pairs and self.ranks[i] >= self.ranks[j]:
                return reason("in_order", problem.items[j].key)
        if k and line[k - 1] in problem.needs_all[i]:
            return reason("after", problem.items[line[k - 1]].key)
        return reason("in_turn" if self.ranks[i] == IN_TURN else "if_time")

    def _length(self, line: Sequence[int], i: int) -> Reason:
        item, minutes = self.problem.items[i], self.placement.minutes
        calibrated = item.asked is not None and item.asked != item.wanted
        if minutes[i] == item.wanted:
            if calibrated:
                return reason("history", asked=item.asked or 0, minutes=minutes[i])
            return reason("full", minutes=minutes[i])
        if calibrated:
            return reason("history_trimmed", asked=item.asked or 0, wanted=item.wanted, minutes=minutes[i])
        gap = self.placement.gaps[self.placement.gap_of[i]]
        more = item.wanted - minutes[i] - (gap.size - sum(minutes[j] for j in line))
        for j in sorted(line, key=lambda j: (-self.came[j], self.problem.worth[j], -j)):
            if j != i and self.came[j] >= self.came[i] and minutes[j] - more < self.problem.least[j]:
                key = self.problem.items[j].key
                return reason("trimmed_for", key, minutes=minutes[i], wanted=item.wanted)
        return reason("trimmed", minutes=minutes[i], wanted=item.wanted)

    @cached_property
    def left_out(self) -> tuple[LeftOut, ...]:
        """The topics left out, in the static order."""
        items = enumerate(self.problem.items)
        return tuple([LeftOut(item.key, self._outside(i)) for i, item in items if i not in self.came])

    def _outside(self, i: int) -> Reason:
        problem, item, frame = self.problem, self.problem.items[i], self.problem.frame
        if item.least > frame.room:
            return reason("too_long", least=item.least, room=frame.room)
        if item.start is not None:
            return self._start_not_kept(i, item.start)
        missing = problem.needs_all[i] - self.came.keys()
        if missing:
            needed = min(missing, key=lambda j: (j not in problem.needs[i], j))
            return reason("predecessor", problem.items[needed].key)
        later = [j for j in sorted(problem.needs_all[i]) if self.came[j] > LAST_STEP[problem.rank[i]]]
        if later:
            least = item.least + sum(problem.least[j] for j in later)
            return reason("no_room_with", *(problem.items[j].key for j in later), least=least)
        free, beside = max(self._room_for(i), key=lambda room: room[0])
        if free >= item.least:
            return reason("not_found")
        return reason("no_room", *beside, least=item.least, free=free)

    def _start_not_kept(self, i: int, start: int) -> Reason:
        problem, frame, least = self.problem, self.problem.frame, self.problem.least
        if not frame.opening <= start <= frame.end - least[i]:
            return reason("start_outside", start=start, least=least[i])
        for j in sorted(self.came.keys() & problem.timed):
            other = problem.start[j] or 0
            if start < other + least[j] and other < start + least[i]:
                return reason("start_taken", problem.items[j].key, start=start, least=least[i])
        return reason("start_no_room", start=start, least=least[i])

    def _room_for(self, i: int) -> list[tuple[int, list[str]]]:
        """The minutes each gap has for a topic left out, and what takes the others: what came before it or
        with its rank, each at its keep, or at what it has if that is less.
        """
        problem, gap_of, found = self.problem, self.placement.gap_of, []
        first = max([gap_of[j] for j in problem.needs[i]], default=0)
        for gap, line in list(zip(self.placement.gaps, self.lines, strict=True))[first:]:
            beside = [j for j in line if self.came[j] <= LAST_STEP[problem.rank[i]]]
            taken = sum(min(problem.keep[j], self.placement.minutes[j]) for j in beside)
            found.append((gap.size - taken, [problem.items[j].key for j in beside]))
        return found


def shortage(problem: Problem, musts: Collection[int], inside: Collection[int]) -> Reason | None:
    """The shortage, when not all of what must be discussed is in."""
    out = sorted(i for i in musts if i not in inside)
    if not out:
        return None
    keys = [problem.items[i].key for i in out]
    needed, room = sum(problem.least[i] for i in musts), problem.frame.room
    if needed > room:
        return reason("must_too_long", *keys, needed=needed, room=room, over=needed - room)
    return reason("must_starts", *keys, least=sum(problem.least[i] for i in out))
