"""The order of chosen topics, when no topic is bound to a time: least worth times the minute it is over.

Putting i before j costs i's minutes times j's worth (Smith, Naval Research Logistics Quarterly 3, 1956), and
`mu` if j stood before i in the order issued; so the cost of an order is a sum over pairs, and the cheaper
way round of every pair is a lower bound. Where cheaper ways and the orders that must hold form no circle
they are the answer; each circle is a block of its own, searched over sets.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from oneonone.planner.problem import Problem

STATES = 60_000
"""Sets looked at in one block before the search stops with what it has; the gap is then stated."""


@dataclass(frozen=True, slots=True)
class Sequencing:
    """Topics in order, the cost of that order, and a lower bound on it (equal when proven)."""

    line: tuple[int, ...]
    cost: int
    bound: int


def cost_of(problem: Problem, line: Sequence[int], over: Sequence[int]) -> int:
    """Worth times the minute each topic is over, and mu for every pair that changed places."""
    worth = sum(problem.items[i].worth * minute for i, minute in zip(line, over, strict=True))
    return worth + problem.frame.mu * inversions(problem, line)


def inversions(problem: Problem, line: Sequence[int]) -> int:
    """Pairs of topics that stand the other way round in the order issued."""
    ranks = [rank for i in line if (rank := problem.issued[i]) is not None]
    return sum(later < earlier for place, earlier in enumerate(ranks) for later in ranks[place + 1 :])


@dataclass(frozen=True, slots=True)
class Pairs:
    """Costs of one topic before another, by position in `topics`; `first[a]` are those a must precede."""

    topics: tuple[int, ...]
    cost: tuple[tuple[int, ...], ...]
    first: tuple[int, ...]
    alone: int

    @property
    def everything(self) -> int:
        return (1 << len(self.topics)) - 1


def pairs(problem: Problem, minutes: dict[int, int]) -> Pairs:
    """The pairwise costs of chosen topics at their minutes."""
    topics = tuple(sorted(minutes))
    items, mu, issued = problem.items, problem.frame.mu, problem.issued

    def before(i: int, j: int) -> int:
        mine, theirs = issued[i], issued[j]
        turned = mine is not None and theirs is not None and theirs < mine
        return minutes[i] * items[j].worth + (mu if turned else 0)

    return Pairs(
        topics,
        tuple(tuple(before(i, j) if i != j else 0 for j in topics) for i in topics),
        _closed([sum(1 << b for b, j in enumerate(topics) if problem.goes_first(i, j)) for i in topics]),
        sum(items[i].worth * (problem.frame.opening + minutes[i]) for i in topics),
    )


def sequence(problem: Problem, minutes: dict[int, int]) -> Sequencing:
    """The cheapest order among those with the fewest sensitive topics first or last."""
    table = pairs(problem, minutes)
    sensitive = sum(1 << a for a, i in enumerate(table.topics) if problem.items[i].sensitive)
    best = _ordered(table, table.first)
    if sensitive and len(table.topics) > 1 and sensitive != table.everything:
        best = _guarded(table, sensitive, best)
    line, cost, bound = best
    return Sequencing(tuple(table.topics[a] for a in line), table.alone + cost, table.alone + bound)


Answer = tuple[tuple[int, ...], int, int]


def _guarded(table: Pairs, sensitive: int, free: Answer) -> Answer:
    """The cheapest order whose ends are as seldom sensitive as `after` and the hand allow."""
    size = len(table.topics)
    has_before = 0
    for mask in table.first:
        has_before |= mask
    starts = [a for a in range(size) if not has_before >> a & 1]
    ends = [a for a in range(size) if not table.first[a]]
    starts = [a for a in starts if not sensitive >> a & 1] or starts
    ends = [a for a in ends if not sensitive >> a & 1] or ends
    if free[0][0] in starts and free[0][-1] in ends:
        return free
    couples = [(a, b) for a in starts for b in ends if a != b]
    bounded = sorted((_pair_bound(table, a, b), a, b) for a, b in couples)
    best: Answer | None = None
    bound = None
    for least, a, b in bounded:
        if best is not None and least >= best[1]:
            break
        answer = _ordered(table, _with_ends(table, a, b))
        bound = answer[2] if bound is None else min(bound, answer[2])
        if best is None or answer[1] < best[1]:
            best = answer
    if best is None or bound is None:
        return free
    return best[0], best[1], min(bound, best[1])


def _pair_bound(table: Pairs, start: int, end: int) -> int:
    """What an order from `start` to `end` costs at least, by pairs."""
    size, cost, first = len(table.topics), table.cost, table.first
    total = cost[start][end]
    rest = [a for a in range(size) if a not in (start, end)]
    for place, a in enumerate(rest):
        total += cost[start][a] + cost[a][end]
        for b in rest[place + 1 :]:
            if first[a] >> b & 1:
                total += cost[a][b]
            elif first[b] >> a & 1:
                total += cost[b][a]
            else:
                total += min(cost[a][b], cost[b][a])
    return total


def _with_ends(table: Pairs, start: int, end: int) -> tuple[int, ...]:
    first = [mask | 1 << end if a != end else 0 for a, mask in enumerate(table.first)]
    first[start] = table.everything & ~(1 << start)
    return _closed(first)


def _closed(first: Sequence[int]) -> tuple[int, ...]:
    """The transitive closure of what must come first."""
    closed = list(first)
    for middle in range(len(closed)):
        for a in range(len(closed)):
            if closed[a] >> middle & 1:
                closed[a] |= closed[middle]
    return tuple(closed)


def _ordered(table: Pairs, first: Sequence[int]) -> Answer:
    """Blocks of the tournament of cheaper ways round, each searched for itself."""
    size, cost = len(table.topics), table.cost
    wins = list(first)
    for a in range(size):
        for b in range(a + 1, size):
            if first[a] >> b & 1 or first[b] >> a & 1:
                continue
            if cost[a][b] <= cost[b][a]:
                wins[a] |= 1 << b
            else:
                wins[b] |= 1 << a
    ranked = sorted(range(size), key=lambda a: (-wins[a].bit_count(), a))
    line: list[int] = []
    excess = open_excess = 0
    block: list[int] = []
    beaten = 0
    for place, a in enumerate(ranked):
        block.append(a)
        beaten += wins[a].bit_count()
        if beaten == place * (place + 1) // 2 + (place + 1) * (size - place - 1):
            part, more, gap = _block(table, first, tuple(sorted(block)))
            line.extend(part)
            excess += more
            open_excess += gap
            block = []
    total = sum(cost[a][b] for place, a in enumerate(line) for b in line[place + 1 :])
    return tuple(line), total, total - open_excess


def _block(table: Pairs, first: Sequence[int], block: tuple[int, ...]) -> tuple[tuple[int, ...], int, int]:
    """The cheapest order of one block, its cost, and how far a bound may lie below it."""
    if len(block) == 1:
        return block, 0, 0
    size = len(block)
    cost = [[table.cost[a][b] for b in block] for a in block]
    ahead = [sum(1 << y for y, b in enumerate(block) if first[b] >> a & 1) for a in block]
    loss = _losses(cost, ahead)
    everything = (1 << size) - 1
    line, found = _greedy(loss, ahead)
    layer: dict[int, tuple[int, tuple[int, ...]]] = {0: (0, ())}
    states = 0
    for _ in range(size):
        following: dict[int, tuple[int, tuple[int, ...]]] = {}
        for mask, (spent, so_far) in layer.items():
            for x in range(size):
                if mask >> x & 1 or ahead[x] & ~mask:
                    continue
                more = spent + sum(loss[x][y] for y in range(size) if not mask >> y & 1)
                if more > found:
                    continue
                entry = (more, (*so_far, x))
                known = following.get(mask | 1 << x)
                if known is None or entry < known:
                    following[mask | 1 << x] = entry
        states += len(following)
        if states > STATES:
            return tuple(block[x] for x in line), found, found
        layer = following
    found, line = layer[everything]
    return tuple(block[x] for x in line), found, 0


def _losses(cost: Sequence[Sequence[int]], ahead: Sequence[int]) -> list[list[int]]:
    """What putting x before y costs beyond the cheaper way round that is allowed."""
    size = len(cost)
    return [
        [
            0 if x == y or ahead[y] >> x & 1 or ahead[x] >> y & 1 else max(0, cost[x][y] - cost[y][x])
            for y in range(size)
        ]
        for x in range(size)
    ]


def _greedy(loss: Sequence[Sequence[int]], ahead: Sequence[int]) -> tuple[tuple[int, ...], int]:
    """A first order: always the free topic that loses least against those still waiting, then moved about."""
    size = len(loss)
    line: list[int] = []
    mask = 0
    for _ in range(size):
        free = [x for x in range(size) if not mask >> x & 1 and not ahead[x] & ~mask]
        x = min(free, key=lambda x: (sum(loss[x][y] for y in range(size) if not mask >> y & 1), x))
        line.append(x)
        mask |= 1 << x
    return _moved(loss, ahead, line)


def _moved(
    loss: Sequence[Sequence[int]], ahead: Sequence[int], line: list[int]
) -> tuple[tuple[int, ...], int]:
    """The order after moving single topics to other places as long as that saves anything."""
    best = _excess(loss, line)
    improved = True
    while improved:
        improved = False
        for x in list(line):
            rest = [y for y in line if y != x]
            for place in range(len(rest) + 1):
                trial = [*rest[:place], x, *rest[place:]]
                if _allowed(ahead, trial) and (value := _excess(loss, trial)) < best:
                    line, best, improved = trial, value, True
    return tuple(line), best


def _excess(loss: Sequence[Sequence[int]], line: Iterable[int]) -> int:
    order = list(line)
    return sum(loss[x][y] for place, x in enumerate(order) for y in order[place + 1 :])


def _allowed(ahead: Sequence[int], line: Iterable[int]) -> bool:
    mask = 0
    for x in line:
        if ahead[x] & ~mask:
            return False
        mask |= 1 << x
    return True
