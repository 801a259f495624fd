"""Which topics have waited longer than an equal one: those come first, and are never left out for it."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from oneonone.planner import Item


def of(
    items: Sequence[Item], *, ages: Mapping[str, int], weights: Mapping[str, int], but: Collection[str]
) -> dict[str, tuple[str, ...]]:
    """For each topic the equal ones that were kept more often.

    ``ages`` are what having been kept adds to each, ``weights`` their worth without that. Equal are topics of
    one side with the same worth and minutes, without an agreed start or a must, which no other comes after;
    ``but`` are keys that the hand has placed. An order with the younger of two such topics alone is worth
    less than the same with the older in its place, so that nothing is lost by asking for it.
    """
    needed = {before for item in items for before in item.after}
    groups: dict[object, list[str]] = {}
    for item in items:
        if item.must or item.start is not None or item.key in needed or item.key in but:
            continue
        alike = (item.side, weights[item.key], item.wanted, item.least, item.sensitive, item.after)
        groups.setdefault(alike, []).append(item.key)
    return {
        key: tuple(sorted(other for other in group if ages[other] > ages[key]))
        for group in groups.values()
        for key in group
        if any(ages[other] > ages[key] for other in group)
    }
