"""A meeting under way: overrun, early finish, late start, and what a change would do."""

from dataclasses import replace

from oneonone.planner import (
    FIRST,
    IF_TIME,
    Difference,
    Frame,
    Item,
    Plan,
    difference,
    let_in,
    next_minute,
    other_start,
    plan,
    replan,
)

RADIO = Item("radio", "report", 10, 5, 6, rank=FIRST)
ROSTER = Item("roster", "manager", 10, 5, 5, rank=FIRST)
TICKETS = Item("tickets", "manager", 10, 5, 6)
LOCKERS = Item("lockers", "report", 5, 3, 4, rank=IF_TIME)
ALL = [RADIO, ROSTER, TICKETS, LOCKERS]
HOUR = Frame(40, opening=2, closing=4)
ISSUED = plan(ALL, HOUR)


def table(made: Plan) -> list[tuple[str, int]]:
    return [(slot.key, slot.minutes) for slot in made.slots]


def test_when_a_topic_overruns_the_lowest_gives_first_and_first_keeps_four_fifths() -> None:
    assert table(ISSUED) == [("radio", 10), ("roster", 10), ("tickets", 10), ("lockers", 4)]
    late = replan(ALL, HOUR, ISSUED, 19, "radio")
    assert table(late) == [("radio", 17), ("roster", 9), ("tickets", 8)]
    assert late.slots[0].length.code == "overrun"
    assert [out.key for out in late.left_out] == ["lockers"]
    later = replan(ALL, HOUR, ISSUED, 24, "radio")
    assert table(later) == [("radio", 22), ("roster", 8), ("lockers", 4)]
    assert later.slots[-1].end == 36


def test_the_running_topic_keeps_its_box_until_it_is_over() -> None:
    running = replan(ALL, HOUR, ISSUED, 7, "radio")
    assert table(running) == table(ISSUED)
    assert [running.slots[0].reason.code, running.slots[0].length.code] == ["running", "running_box"]
    late = Item("late", "report", 5, 3, 9)
    begun = replan([*ALL, late], HOUR, ISSUED, 14, "late", ("radio",))
    assert (begun.slots[0].key, begun.slots[0].start, begun.slots[0].end) == ("late", 14, 19)


def test_one_more_minute_is_taken_from_the_lowest_that_can_give() -> None:
    assert next_minute(ALL, HOUR, ISSUED, 12, "radio") == Difference(shortened=(("tickets", 1),))
    pair = ALL[:2]
    assert next_minute(pair, HOUR, plan(pair, HOUR), 12, "radio") == Difference()
    tight = replan(ALL, HOUR, ISSUED, 16, "radio")
    assert table(tight) == [("radio", 14), ("roster", 8), ("tickets", 8), ("lockers", 4)]
    assert next_minute(ALL, HOUR, tight, 16, "radio") == Difference(
        pushed_out=(), shortened=(("lockers", 1),)
    )


def test_an_early_finish_gives_minutes_back_and_brings_in_what_was_kept() -> None:
    tight = Frame(30, opening=2, closing=4)
    issued = plan(ALL, tight)
    assert table(issued) == [("radio", 8), ("roster", 8), ("tickets", 8)]
    early = replan(ALL, tight, issued, 4, None, ("radio",))
    assert table(early) == [("roster", 10), ("tickets", 8), ("lockers", 4)]


def test_a_late_start_says_what_would_leave() -> None:
    late = replan(ALL, HOUR, ISSUED, 16)
    assert difference(ISSUED, late).pushed_out == ("tickets",)
    assert late.slots[0].start == 16


def test_when_nothing_fits_any_more_all_is_left_out() -> None:
    over = replan(ALL, HOUR, ISSUED, 36)
    assert over.slots == ()
    assert len(over.left_out) == 4
    must = [replace(RADIO, must=True), ROSTER]
    assert replan(must, HOUR, ISSUED, 34).infeasible is not None


def test_the_order_issued_stays_though_the_rule_would_now_have_another() -> None:
    turned = replace(HOUR, order=("tickets", "roster"))
    issued = plan(ALL, turned)
    assert issued.keys.index("tickets") < issued.keys.index("roster")
    assert replan(ALL, turned, issued, 0).keys == issued.keys
    assert replan(ALL, HOUR, issued, 0).keys == issued.keys


def test_a_passed_start_is_left_out_and_another_can_be_offered() -> None:
    guest = Item("guest", None, 5, 5, 9, start=12)
    issued = plan([*ALL, guest], HOUR)
    assert issued.slot("guest") is not None
    late = replan([*ALL, guest], HOUR, issued, 14, "radio", ())
    assert {out.key: out.reason.code for out in late.left_out}["guest"] == "start_outside"
    offered = other_start([*ALL, guest], replace(HOUR, opening=14), "guest")
    assert offered is not None
    assert offered.start >= 14


def test_what_would_let_a_topic_in_comes_from_one_plan_with_it_forced() -> None:
    small = Frame(22, opening=2, closing=4)
    standing = plan(ALL, small)
    assert table(standing) == [("radio", 8), ("roster", 8)]
    forced, change = let_in(ALL, small, "tickets", standing)
    assert table(forced) == [("tickets", 5), ("radio", 6), ("roster", 5)]
    assert change.brought_in == ("tickets",)
    assert change.shortened == (("radio", 2), ("roster", 3))
    musts = [replace(item, must=True, least=item.wanted) for item in (RADIO, ROSTER)]
    forced, change = let_in([*musts, LOCKERS], replace(small, minutes=26), "lockers")
    assert change == Difference()
    assert forced.infeasible is not None
    assert str(forced.ways_out[1]) == "Make the meeting 3 minutes longer."
