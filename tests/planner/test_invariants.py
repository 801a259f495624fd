"""What holds for every agenda, searched for counterexamples."""

from dataclasses import replace
from random import Random

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from oneonone.planner import Frame, Item, Plan, from_json, plan, replan, to_json
from oneonone.planner.replanning import order_of
from tests.planner.brute import Brute, keep, least
from tests.planner.draws import draw

seeds = st.integers(0, 10**6)
sizes = st.integers(1, 14)
starts = st.sampled_from((None, 0, 1, 3))
often = settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.filter_too_much])


def agreed_in(made: Plan, items: list[Item]) -> set[str]:
    return {item.key for item in items if item.start is not None and made.slot(item.key)}


def settled(made: Plan, items: list[Item], frame: Frame) -> Brute:
    """The gaps and minutes of a plan, read from its slots."""
    held = Brute(items, frame)
    edges = held.cut(agreed_in(made, items))
    assert edges is not None
    held.edges = edges
    for slot in made.slots:
        held.minutes[slot.key] = slot.minutes
        held.gap[slot.key] = max(g for g, (start, _, head) in enumerate(edges) if start <= slot.start)
        if slot.key not in agreed_in(made, items):
            held.gap[slot.key] = max(
                g for g, (start, _, head) in enumerate(edges) if start < slot.end and start <= slot.start
            )
    return held


@often
@given(seeds, sizes, starts)
def test_slots_do_not_overlap_and_keep_room_lengths_starts_after_and_order(
    seed: int, n: int, count: int | None
) -> None:
    items, frame = draw(seed, n, count)
    made = plan(items, frame)
    clock = frame.opening
    for slot in made.slots:
        item = next(item for item in items if item.key == slot.key)
        assert clock <= slot.start
        clock = slot.end
        assert item.least <= slot.minutes <= item.wanted
        assert item.start in (None, slot.start)
        for key in item.after:
            if key != "gone":
                ahead = made.slot(key)
                assert ahead is not None
                assert ahead.end <= slot.start
    assert clock <= frame.minutes - frame.closing
    assert sorted([*made.keys, *(out.key for out in made.left_out)]) == sorted(item.key for item in items)
    line = [key for key in frame.order if key in made.keys]
    turned = {
        (a, b) for n, a in enumerate(line) for b in line[n + 1 :] if made.keys.index(b) < made.keys.index(a)
    }
    assert set(made.given_up) == turned


@often
@given(seeds, sizes, starts)
def test_what_must_be_discussed_is_in_or_the_shortage_is_said_with_ways_out(
    seed: int, n: int, count: int | None
) -> None:
    items, frame = draw(seed, n, count)
    made = plan(items, frame)
    musts = Brute(items, frame).needs(item.key for item in items if item.must)
    missing = musts - set(made.keys)
    assert bool(missing) == (made.infeasible is not None) == bool(made.ways_out)
    if made.infeasible is not None:
        assert set(made.infeasible.keys) == missing


@often
@given(seeds, sizes, starts)
def test_every_way_out_lets_all_in_that_must_be_discussed(seed: int, n: int, count: int | None) -> None:
    rng = Random(seed)
    items, frame = draw(seed, n, count)
    items = [replace(item, must=rng.random() < 0.6) for item in items]
    made = plan(items, frame)
    for way in made.ways_out:
        changed, longer = items, frame
        if way.code == "lengthen":
            longer = replace(frame, minutes=frame.minutes + way.number("minutes"))
            shorter = replace(longer, minutes=longer.minutes - 1)
            assert shorter == frame or plan(items, shorter).infeasible is not None
        elif way.code == "not_must":
            changed = [replace(i, must=i.must and i.key not in way.keys) for i in items]
        else:
            changed = [replace(i, start=None) if i.key in way.keys else i for i in items]
        assert plan(changed, longer).infeasible is None


@often
@given(seeds, sizes, starts)
def test_a_topic_left_out_does_not_fit_beside_what_came_before_it_or_with_its_rank(
    seed: int, n: int, count: int | None
) -> None:
    items, frame = draw(seed, n, count)
    made = plan(items, frame)
    assume(made.unproven == 0)
    held = settled(made, items, frame)
    by_key = held.by_key
    chosen_early = {item.key for item in items if item.by_hand or item.start is not None}
    for out in made.left_out:
        item = by_key[out.key]
        assert str(out.reason)
        rank = 0 if item.must else item.rank
        needs = held.needs([out.key])
        if any(by_key[key].start is not None and key not in held.minutes for key in needs):
            continue
        early = {key for key in made.keys if held.rank(key) <= rank or by_key[key].start is not None}
        if rank > 0:
            early |= held.needs(chosen_early & set(made.keys))
        early |= held.needs(agreed_in(made, items))
        kept = {key: min(held.minutes[key], keep(by_key[key])) for key in early}
        at = {key: held.gap[key] for key in early}
        ways = held.placings(needs - early, least, at, kept, held.edges, ())
        assert not any(True for _ in ways)


@often
@given(seeds, sizes, starts)
def test_no_first_topic_is_short_beside_a_lower_one_that_nobody_put_there(
    seed: int, n: int, count: int | None
) -> None:
    items, frame = draw(seed, n, count)
    made = plan(items, frame)
    held = settled(made, items, frame)
    agreed = agreed_in(made, items)
    put_there = held.needs(agreed)
    for key in made.keys:
        if held.rank(key) == 0 and held.minutes[key] < keep(held.by_key[key]):
            beside = {one for one in made.keys if held.gap[one] == held.gap[key] and held.rank(one)}
            assert beside <= put_there


@often
@given(seeds, sizes, st.sampled_from((1, 2, 3)))
def test_no_first_topic_is_short_where_another_gap_had_room_for_it(seed: int, n: int, count: int) -> None:
    items, frame = draw(seed, n, count)
    items = [replace(item, must=False) for item in items]
    made = plan(items, frame)
    held = settled(made, items, frame)
    agreed = agreed_in(made, items)
    early = {key for key in made.keys if held.rank(key) == 0} | held.needs(agreed)
    pairs = held.pairs if not any(pair in held.pairs for pair in made.given_up) else []
    for key in early - held.needs(agreed):
        if held.minutes[key] >= keep(held.by_key[key]):
            continue
        at = {one: held.gap[one] for one in early if one != key}
        kept = {one: keep(held.by_key[one]) for one in at}
        for way in held.placings({key}, keep, at, kept, held.edges, pairs):
            assert way[key] == held.gap[key]


@often
@given(seeds, sizes, st.integers(1, 10))
def test_more_room_never_lowers_the_worth_of_what_is_called_first(seed: int, n: int, more: int) -> None:
    items, frame = draw(seed, n, 0)
    items = [replace(item, by_hand=False) for item in items]
    made = plan(items, frame)
    assume(made.infeasible is None)
    assert plan(items, replace(frame, minutes=frame.minutes + more)).worth[0] >= made.worth[0]


@often
@given(seeds, sizes, starts)
def test_the_order_of_input_does_not_matter(seed: int, n: int, count: int | None) -> None:
    items, frame = draw(seed, n, count)
    shuffled = [replace(item, after=item.after[::-1]) for item in items]
    Random(seed).shuffle(shuffled)
    assert plan(shuffled, frame) == plan(items, frame)


@often
@given(seeds, sizes, starts)
def test_planning_the_issued_plan_again_changes_nothing(seed: int, n: int, count: int | None) -> None:
    items, frame = draw(seed, n, count)
    first = plan(items, frame)
    again = plan(items, replace(frame, order=order_of(first, frame.order)))
    assert places(again) == places(first)
    assert not [pair for pair in again.given_up if pair in zip(first.keys, first.keys[1:], strict=False)]
    before = replan(items, frame, first, 0)
    assert places(before) == places(first)


def places(made: Plan) -> list[tuple[str, int, int]]:
    return [(slot.key, slot.start, slot.end) for slot in made.slots]


@often
@given(seeds, sizes, starts, st.integers(0, 60))
def test_what_is_left_of_a_meeting_keeps_the_same_rules(
    seed: int, n: int, count: int | None, now: int
) -> None:
    items, frame = draw(seed, n, count)
    first = plan(items, frame)
    assume(first.slots)
    heard = [slot for slot in first.slots if slot.start < now]
    running = heard[-1].key if heard else None
    done = tuple(slot.key for slot in heard[:-1])
    rest = replan(items, frame, first, now, running, done)
    coming = [slot for slot in rest.slots if slot.key != running]
    clock = max(now if running is None else rest.slots[0].end, frame.opening)
    for slot in coming:
        item = next(item for item in items if item.key == slot.key)
        assert clock <= slot.start
        clock = slot.end
        assert item.least <= slot.minutes <= item.wanted
        assert item.start in (None, slot.start)
    assert not coming or clock <= frame.minutes - frame.closing
    assert not set(done) & {*rest.keys, *(out.key for out in rest.left_out)}
    kept = [key for key in first.keys if key in {slot.key for slot in coming}]
    if not any(item.start is not None for item in items):
        assert [slot.key for slot in coming if slot.key in kept] == kept


@often
@given(seeds, st.integers(1, 40), starts)
def test_a_plan_comes_back_equal_from_storage(seed: int, n: int, count: int | None) -> None:
    made = plan(*draw(seed, n, count))
    assert from_json(to_json(made)) == made
