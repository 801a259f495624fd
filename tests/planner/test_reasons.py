"""Each reason is true of the plan it stands in, and every code occurs."""

from dataclasses import replace
from string import Formatter

from oneonone.planner import Frame, Item, Plan, Reason, plan, replan
from oneonone.planner.reasons import ENGLISH
from tests.planner.brute import keep
from tests.planner.draws import draw


def agendas(count: int) -> list[tuple[list[Item], Frame, Plan]]:
    found = []
    for seed in range(count):
        items, frame = draw(("reasons", seed), 4 + seed % 12)
        if seed % 5 == 0:
            items = [replace(item, asked=max(1, item.wanted - 1)) for item in items]
        if seed % 7 == 0:
            items = [replace(item, must=True) for item in items]
        found.append((items, frame, plan(items, frame)))
    return found


DRAWN = agendas(400)


def test_every_sentence_has_all_it_names_and_every_code_occurs() -> None:
    seen: dict[str, Reason] = {}
    for items, frame, made in DRAWN:
        rest = replan(items, frame, made, 25, made.keys[0], made.keys[1:2]) if len(made.keys) > 2 else made
        early = replan(items, frame, made, 1, made.keys[0]) if made.keys else made
        for one in (made, rest, early):
            reasons = [r for slot in one.slots for r in (slot.reason, slot.length)]
            reasons += [out.reason for out in one.left_out] + list(one.ways_out)
            reasons += [one.infeasible] if one.infeasible else []
            for reason in reasons:
                named = {name for _, name, _, _ in Formatter().parse(ENGLISH[reason.code]) if name}
                assert named - {"keys"} == {name for name, _ in reason.numbers}
                assert str(reason)
                seen[reason.code] = reason
    assert set(ENGLISH) - set(seen) == {"not_found"}


def test_places_are_true() -> None:
    for items, _, made in DRAWN:
        by_key = {item.key: item for item in items}
        for place, slot in enumerate(made.slots):
            item, reason = by_key[slot.key], slot.reason
            own = {"must": item.must, "first": item.rank == 0, "by_hand": item.by_hand}
            assert own.get(reason.code, True)
            assert reason.code != "agreed" or item.start == slot.start == reason.number("start")
            for key in reason.keys:
                beside = made.slot(key)
                assert beside is not None
                ahead, behind = made.slots[place - 1].key == key, slot.end == beside.start
                here, there = item.worth * beside.minutes, by_key[key].worth * slot.minutes
                assert {
                    "needed": needs(by_key, key, slot.key) and beside.start >= slot.end,
                    "before": needs(by_key, key, slot.key) and behind,
                    "in_order": behind,
                    "after": needs(by_key, slot.key, key) and ahead,
                    "denser": here > there and behind,
                    "as_dense": here == there and behind,
                    "sensitive": item.sensitive and not by_key[key].sensitive,
                    "for_sensitive": by_key[key].sensitive and not item.sensitive,
                }[reason.code]


def needs(by_key: dict[str, Item], one: str, other: str) -> bool:
    """Whether one needs the other, directly or not."""
    after = [key for key in by_key[one].after if key in by_key]
    return other in after or any(needs(by_key, key, other) for key in after)


def test_lengths_are_true() -> None:
    for items, _, made in DRAWN:
        by_key = {item.key: item for item in items}
        for slot in made.slots:
            item, reason = by_key[slot.key], slot.length
            assert reason.number("minutes") == slot.minutes
            assert (slot.minutes == item.wanted) == (reason.code in ("full", "history"))
            assert (item.asked not in (None, item.wanted)) == reason.code.startswith("history")
            if reason.code == "trimmed_for":
                other, beside = by_key[reason.keys[0]], made.slot(reason.keys[0])
                assert beside is not None
                assert beside.minutes - (item.wanted - slot.minutes) < other.least


def test_what_was_left_is_too_short_for_what_is_left_out() -> None:
    for items, frame, made in DRAWN:
        by_key = {item.key: item for item in items}
        for out in made.left_out:
            item, reason = by_key[out.key], out.reason
            match reason.code:
                case "no_room":
                    assert reason.number("least") == item.least > reason.number("free")
                    minutes = {slot.key: slot.minutes for slot in made.slots}
                    held = sum(min(minutes[key], keep(by_key[key])) for key in reason.keys)
                    assert held + reason.number("free") <= frame.room
                case "too_long":
                    assert item.least > frame.room
                case "predecessor":
                    assert needs(by_key, out.key, reason.keys[0])
                    assert made.slot(reason.keys[0]) is None
                case "start_taken":
                    beside, start = made.slot(reason.keys[0]), reason.number("start")
                    assert beside is not None
                    assert beside.start < start + item.least
                    assert start < beside.start + by_key[reason.keys[0]].least
