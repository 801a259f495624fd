"""When the must-discuss topics do not fit: by how many minutes, and the cheapest single ways out."""

from oneonone.planner.problem import Problem, bits
from oneonone.planner.reasons import Reason, reason


def shortage(problem: Problem) -> tuple[Reason, tuple[Reason, ...]]:
    """What is short, and each single change that cures it: least worth given up first, then longer time."""
    room = problem.frame.room
    needed = _least(problem, problem.must)
    over = needed - room
    keys = tuple(sorted(problem.items[i].key for i in bits(problem.must)))
    short = reason("must_too_long", *keys, needed=needed, room=max(0, room), over=over)
    ways = [
        reason("not_must", problem.items[i].key, minutes=freed)
        for _, i, freed in sorted(_releases(problem, over))
    ]
    slack = problem.frame.end - problem.frame.opening - room
    if 0 < over <= slack:
        ways.append(reason("use_slack", minutes=over))
    ways.append(reason("lengthen", minutes=over))
    return short, tuple(ways)


def _releases(problem: Problem, over: int) -> list[tuple[int, int, int]]:
    """(worth given up, topic, minutes freed) for each must-discuss topic whose release would be enough."""
    wanted = [i for i in bits(problem.must) if problem.items[i].must]
    found = []
    for i in wanted:
        kept = 0
        for j in wanted:
            if j != i:
                kept |= 1 << j | problem.before[j]
        freed = problem.must & ~kept
        minutes = _least(problem, freed)
        if minutes >= over:
            found.append((sum(problem.items[j].worth for j in bits(freed)), i, minutes))
    return found


def _least(problem: Problem, chosen: int) -> int:
    return sum(problem.items[i].least for i in bits(chosen))
