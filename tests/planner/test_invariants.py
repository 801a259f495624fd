"""What holds for every agenda, searched for counterexamples."""

from dataclasses import replace
from fractions import Fraction
from random import Random

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from oneonone.planner import Frame, Item, Plan, from_json, plan, replan, to_json
from tests.planner.rules import assert_keeps_rules, cost_of, worth_of
from tests.planner.shapes import SHAPES, draw

seeds = st.integers(0, 10**6)
shapes = st.sampled_from(sorted(SHAPES))
sizes = st.integers(1, 12)
often = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.filter_too_much])


@often
@given(shapes, seeds, sizes)
def test_every_hard_rule_is_kept_and_worth_and_cost_are_those_of_the_slots(
    shape: str, seed: int, n: int
) -> None:
    items, frame = draw(shape, seed, max(n, 2))
    made = plan(items, frame)
    assert_keeps_rules(made, items, frame)
    if not made.infeasible:
        assert made.worth == worth_of(made, items, frame.beta)
        assert made.cost == cost_of(made, items)
    assert all(str(slot.reason) and str(slot.length) for slot in made.slots)
    assert all(str(out.reason) for out in made.left_out)


@often
@given(shapes, seeds, sizes)
def test_the_order_of_input_does_not_matter(shape: str, seed: int, n: int) -> None:
    items, frame = draw(shape, seed, max(n, 2))
    shuffled = [replace(item, after=item.after[::-1]) for item in items]
    Random(seed).shuffle(shuffled)
    assert plan(shuffled, frame) == plan(items, frame)


@often
@given(shapes, seeds, sizes, st.integers(0, 5), st.integers(0, 30))
def test_planning_an_unchanged_agenda_again_changes_nothing(
    shape: str, seed: int, n: int, kappa: int, mu: int
) -> None:
    items, frame = draw(shape, seed, max(n, 2))
    frame = replace(frame, kappa=kappa, mu=mu)
    first = plan(items, frame)
    again = plan(items, frame, first)
    assert _places(again) == _places(first)
    assert again.left_out == first.left_out
    assert _places(plan(items, frame, again)) == _places(first)


def _places(made: Plan) -> list[tuple[str, int, int]]:
    return [(slot.key, slot.start, slot.end) for slot in made.slots]


@often
@given(st.sampled_from(["plain", "rigid", "chained", "webbed", "musts", "windowed"]), seeds, sizes)
def test_a_longer_meeting_is_never_worth_less(shape: str, seed: int, n: int) -> None:
    items, frame = draw(shape, seed, max(n, 2))
    worths = []
    for more in range(3):
        made = plan(items, replace(frame, minutes=frame.minutes + more))
        assume(not made.infeasible and not made.relaxed and not made.set_gap)
        worths.append(made.worth)
    assert worths == sorted(worths)


@often
@given(shapes, seeds, sizes, st.data())
def test_the_hand_wins(shape: str, seed: int, n: int, data: st.DataObject) -> None:
    items, frame = draw(shape, seed, max(n, 2))
    made = plan(items, frame)
    order = data.draw(st.permutations(made.keys))
    after = {item.key: item.after for item in items}
    seen: set[str] = set()
    for key in order:
        assume(seen.issuperset(after[key]))
        seen.add(key)
    by_hand = plan(items, replace(frame, order=tuple(order)))
    assert_keeps_rules(by_hand, items, replace(frame, order=tuple(order)))


@often
@given(shapes, seeds, sizes)
def test_a_stored_plan_comes_back_equal(shape: str, seed: int, n: int) -> None:
    items, frame = draw(shape, seed, max(n, 2))
    made = plan(items, frame)
    assert from_json(to_json(made)) == made


@often
@given(shapes, seeds, sizes, st.integers(0, 60), st.booleans())
def test_what_is_left_keeps_every_rule_at_any_minute(
    shape: str, seed: int, n: int, now: int, runs: bool
) -> None:
    items, frame = draw(shape, seed, max(n, 2))
    frame = replace(frame, kappa=3, mu=20)
    before = plan(items, frame)
    now = min(now, frame.minutes)
    running = before.keys[0] if runs and before.keys else None
    after = replan(items, frame, before, now, running)
    clock = now
    if running:
        assert after.keys[0] == running
        clock = max(now, after.slots[0].end)
    rest = after.slots[1:] if running else after.slots
    for slot in rest:
        assert slot.start >= clock
        clock = slot.end
    assert not rest or clock <= frame.end
    assert {*after.keys, *(out.key for out in after.left_out)} == {item.key for item in items}


@often
@given(st.sampled_from(["plain", "rigid", "chained"]), seeds, st.integers(3, 12), st.integers(1, 3))
def test_an_overrun_within_the_slack_moves_nothing(shape: str, seed: int, n: int, late: int) -> None:
    items, frame = draw(shape, seed, n)
    frame = replace(frame, slack=3, kappa=3, mu=20)
    before = plan(items, frame)
    assume(not before.infeasible and len(before.keys) > 1)
    first = before.slots[0]
    assume(frame.end - before.slots[-1].end >= late)
    after = replan(items, frame, before, first.end + late, first.key)
    assert after.keys == before.keys
    shifts = {new.start - old.start for old, new in zip(before.slots[1:], after.slots[1:], strict=True)}
    assert shifts == {late}
    assert [s.minutes for s in after.slots[1:]] == [s.minutes for s in before.slots[1:]]


@often
@given(seeds, st.integers(2, 10))
def test_a_floor_is_kept_or_its_relaxation_stated(seed: int, n: int) -> None:
    items, frame = draw("floored_web", seed, n)
    made = plan(items, frame)
    assume(not made.infeasible)
    short = {one.keys[0]: one.number("minutes") for one in made.relaxed if one.code == "floor_short"}
    side = {item.key: item.side for item in items}
    discussed = sum(slot.minutes for slot in made.slots)
    for name, share in (frame.floors or {}).items():
        mine = sum(slot.minutes for slot in made.slots if side[slot.key] == name)
        asked = sum(item.wanted for item in items if item.side == name)
        missing = max(Fraction(0), min(share * discussed, Fraction(asked)) - mine)
        assert missing == short.get(name, 0)


def test_the_same_agenda_gives_the_same_plan_in_the_same_words() -> None:
    items, frame = draw("everything", 7, 12)
    texts = {repr(plan(items, frame)) for _ in range(3)}
    assert len(texts) == 1


def test_an_agenda_without_topics_is_an_empty_plan() -> None:
    assert plan([], Frame(30)) == Plan()
    assert plan([Item("long", None, 40, 40, 5)], Frame(30)).left_out[0].reason.code == "too_long"
