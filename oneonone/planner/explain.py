"""The full account behind "why here?", "why not?" and "what would that cost?", each from solving again.

Nothing is said that has not been solved: at most two solves an account, one if the plan as it stands is
handed in.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from oneonone.planner.model import Frame, Item, Plan
from oneonone.planner.refusals import UnknownKey
from oneonone.planner.solve import plan


@dataclass(frozen=True, slots=True)
class Difference:
    """What changes from one plan to another.

    `pushed_out` and `brought_in` are topics, `trimmed` and `stretched` topics with minutes lost or gained;
    `moved` counts pairs that change places; `worth` and `pushed_out_worth` are exact.
    """

    pushed_out: tuple[str, ...]
    brought_in: tuple[str, ...]
    trimmed: tuple[tuple[str, int], ...]
    stretched: tuple[tuple[str, int], ...]
    moved: int
    worth: Fraction
    pushed_out_worth: int

    def __str__(self) -> str:
        parts = [
            *([f"pushes out {_and(self.pushed_out)}"] if self.pushed_out else []),
            *([f"brings in {_and(self.brought_in)}"] if self.brought_in else []),
            *([f"trims {_and([f'{key} by {n}' for key, n in self.trimmed])}"] if self.trimmed else []),
            *([f"gives {_and([f'{key} {n} more' for key, n in self.stretched])}"] if self.stretched else []),
            *([f"lets {self.moved} pairs change places"] if self.moved > 1 else []),
            *(["lets one pair change places"] if self.moved == 1 else []),
        ]
        return _and(parts) if parts else "changes nothing"


@dataclass(frozen=True, slots=True)
class Account:
    """A plan as it stands, the plan under one change, and the difference; `solves` is how many were made.

    When the change cannot be planned, `changed.infeasible` says why and there is no difference; what had to
    give way for it stands in `changed.relaxed`.
    """

    key: str
    standing: Plan
    changed: Plan
    difference: Difference | None
    solves: int


def difference(before: Plan, after: Plan, items: Sequence[Item]) -> Difference:
    """What `after` changes of `before`; `items` are the topics of both."""
    worth = {item.key: item.worth for item in items}
    old = {slot.key: slot.minutes for slot in before.slots}
    new = {slot.key: slot.minutes for slot in after.slots}
    out = tuple(key for key in before.keys if key not in new)
    return Difference(
        pushed_out=out,
        brought_in=tuple(key for key in after.keys if key not in old),
        trimmed=tuple(
            (key, old[key] - new[key]) for key in before.keys if key in new and new[key] < old[key]
        ),
        stretched=tuple(
            (key, new[key] - old[key]) for key in before.keys if key in new and new[key] > old[key]
        ),
        moved=moved(before, after),
        worth=after.worth - before.worth,
        pushed_out_worth=sum(worth.get(key, 0) for key in out),
    )


def moved(before: Plan, after: Plan) -> int:
    """How many pairs of topics in both plans change places."""
    place = {key: n for n, key in enumerate(before.keys)}
    line = [place[key] for key in after.keys if key in place]
    return sum(later < earlier for n, earlier in enumerate(line) for later in line[n + 1 :])


def why_in(items: Sequence[Item], frame: Frame, key: str, standing: Plan | None = None) -> Account:
    """What would be lost without a topic: it is left out, and the rest is planned again.

    Topics that require it go with it. If one of them is must-discuss, so in effect is this one, and the
    account has no difference.
    """
    _known(items, key)
    gone = _requiring(items, key)
    left = [item for item in items if item.key not in gone]
    if any(item.must for item in items if item.key in gone):
        now, solves = _standing(items, frame, standing)
        return Account(key, now, now, None, solves)
    return _account(items, frame, key, standing, left, frame)


def why_out(items: Sequence[Item], frame: Frame, key: str, standing: Plan | None = None) -> Account:
    """What would leave if a topic came in: it is made must-discuss, and all is planned again."""
    _known(items, key)
    forced = [replace(item, must=item.must or item.key == key) for item in items]
    return _account(items, frame, key, standing, forced, frame)


def cost_of_order(
    items: Sequence[Item], frame: Frame, order: Sequence[str], standing: Plan | None = None
) -> Account:
    """What an order by hand would cost; its topics keep that order if they are in."""
    changed = replace(frame, order=tuple(order))
    return _account(items, frame, order[0] if order else "", standing, items, changed)


def cost_of_start(
    items: Sequence[Item], frame: Frame, key: str, start: int, standing: Plan | None = None
) -> Account:
    """What it would cost to have a topic in, from that minute."""
    _known(items, key)
    pinned = [
        replace(item, start=start, not_before=None, by=None, must=True) if item.key == key else item
        for item in items
    ]
    return _account(items, frame, key, standing, pinned, frame)


def _account(
    items: Sequence[Item],
    frame: Frame,
    key: str,
    standing: Plan | None,
    changed_items: Sequence[Item],
    changed_frame: Frame,
) -> Account:
    now, solves = _standing(items, frame, standing)
    changed = plan(changed_items, changed_frame, now)
    told = None if changed.infeasible or now.infeasible else difference(now, changed, items)
    return Account(key, now, changed, told, solves + 1)


def _standing(items: Sequence[Item], frame: Frame, standing: Plan | None) -> tuple[Plan, int]:
    return (plan(items, frame), 1) if standing is None else (standing, 0)


def _known(items: Sequence[Item], key: str) -> None:
    if all(item.key != key for item in items):
        raise UnknownKey("key", "a topic of this meeting", key)


def _requiring(items: Sequence[Item], key: str) -> set[str]:
    """A topic and all that come after it, directly or not."""
    after: Mapping[str, tuple[str, ...]] = {item.key: item.after for item in items}
    gone = {key}
    while more := {one for one, before in after.items() if one not in gone and gone & set(before)}:
        gone |= more
    return gone


def _and(words: Sequence[str]) -> str:
    return " and ".join(filter(None, [", ".join(words[:-1]), *words[-1:]]))
