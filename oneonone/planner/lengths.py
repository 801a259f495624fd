"""Minutes for a set of chosen topics, when only their sum is bounded.

Worth grows evenly from the least useful minutes to those wanted, so giving each minute to the topic where
it is worth most is exact (marginal allocation: Fox, Operations Research 14, 1966).
"""

from collections.abc import Sequence

from oneonone.planner.problem import Problem


def spare_worth(problem: Problem, chosen: Sequence[int], minutes: int) -> list[int]:
    """The most that 0, 1, ... `minutes` minutes beyond the least useful ones can add, scaled."""
    worth = [0]
    for i in sorted(chosen, key=lambda i: -problem.slope[i]):
        step = problem.slope[i]
        if step <= 0:
            break
        for _ in range(len(problem.gain[i]) - 1):
            if len(worth) > minutes:
                return worth
            worth.append(worth[-1] + step)
    worth.extend([worth[-1]] * (minutes + 1 - len(worth)))
    return worth


def allot(problem: Problem, chosen: Sequence[int], room: int) -> dict[int, int]:
    """Minutes for each chosen topic, summing to at most `room`, of the greatest worth."""
    items = problem.items
    minutes = {i: items[i].least for i in chosen}
    free = room - sum(minutes.values())
    for i in sorted(chosen, key=lambda i: (-problem.slope[i], i)):
        more = min(free, len(problem.gain[i]) - 1) if problem.slope[i] > 0 else 0
        minutes[i] += more
        free -= more
    return minutes
