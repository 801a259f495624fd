"""Agendas made by hand whose order a chair would agree to."""

from dataclasses import replace

from oneonone.planner import FIRST, IF_TIME, Frame, Item, Plan, plan

# A full agenda: nine topics for 36 minutes; each side has two first, one of them a must-discuss besides.
OVERTIME = Item("overtime", "manager", 10, 5, 6, must=True)
LEAVE = Item("leave", "report", 5, 3, 5, must=True)
RADIO = Item("radio", "report", 15, 8, 6, rank=FIRST)
ROSTER = Item("roster", "manager", 10, 5, 5, rank=FIRST)
SAFETY = Item("safety", "manager", 5, 3, 4, rank=FIRST)
LOCKERS = Item("lockers", "report", 5, 3, 4)
TICKETS = Item("tickets", "manager", 10, 5, 6)
COURSE = Item("course", "report", 15, 8, 5)
PAINT = Item("paint", "manager", 5, 3, 4, rank=IF_TIME)
FULL = [OVERTIME, LEAVE, RADIO, ROSTER, SAFETY, LOCKERS, TICKETS, COURSE, PAINT]
HOUR = Frame(45, opening=4, closing=5)


def table(made: Plan) -> list[tuple[str, int]]:
    return [(slot.key, slot.minutes) for slot in made.slots]


def test_in_a_full_agenda_what_is_first_comes_first_and_keeps_its_time() -> None:
    """Must and first ask 45 minutes of 36: all five are in, cut evenly, and nothing else squeezes in."""
    made = plan(FULL, HOUR)
    assert table(made) == [("leave", 4), ("safety", 4), ("overtime", 8), ("roster", 8), ("radio", 12)]
    assert [out.key for out in made.left_out] == ["course", "lockers", "paint", "tickets"]
    assert made.worth == (26, 0, 0)


def test_with_more_time_the_rest_comes_in_by_rank_and_then_all_get_more() -> None:
    made = plan(FULL, replace(HOUR, minutes=60))
    assert made.keys[:5] == ("leave", "safety", "overtime", "roster", "radio")
    assert table(made)[5:] == [("lockers", 4), ("tickets", 8), ("paint", 3)]
    assert dict(table(made))["radio"] == 12
    assert [str(out.reason) for out in made.left_out] == [
        "Needs 8 minutes, 3 were left after leave, safety, overtime, roster, radio, lockers, tickets."
    ]
    longer = plan(FULL, replace(HOUR, minutes=90))
    assert table(longer) == [
        *(("leave", 5), ("safety", 5), ("overtime", 10), ("roster", 10), ("radio", 15)),
        *(("lockers", 5), ("tickets", 10), ("course", 15), ("paint", 5)),
    ]


def test_an_obstacle_that_asked_fifteen_minutes_is_not_cut_so_that_updates_fit() -> None:
    """It keeps four fifths of its minutes; two updates have room beside it, and the third has not."""
    obstacle = Item("obstacle", "report", 15, 8, 10, rank=FIRST)
    updates = [Item(f"update {n}", "manager", 5, 3, 4) for n in range(3)]
    made = plan([obstacle, *updates], Frame(20))
    assert table(made) == [("obstacle", 12), ("update 0", 4), ("update 1", 4)]
    assert table(plan([obstacle, updates[0]], Frame(20))) == [("obstacle", 15), ("update 0", 5)]


def test_a_longer_topic_does_not_stand_last_because_it_is_long_when_one_called_it_first() -> None:
    made = plan(
        [Item("long", "report", 20, 10, 4, rank=FIRST), Item("short", "manager", 5, 3, 12)], Frame(30)
    )
    assert made.keys == ("long", "short")


def test_topics_agree_on_a_start_and_the_rest_goes_around_it() -> None:
    guest = Item("guest", None, 10, 10, 5, start=20)
    made = plan([guest, RADIO, ROSTER, LOCKERS], Frame(45, opening=4, closing=5))
    slot = made.slot("guest")
    assert slot is not None
    assert (slot.start, slot.end) == (20, 30)
    assert table(made) == [("radio", 12), ("lockers", 4), ("guest", 10), ("roster", 10)]
    assert str(slot.reason) == "Agreed to start at minute 20."


def test_a_topic_by_hand_wins_over_in_turn_and_not_over_first() -> None:
    by_hand = replace(PAINT, by_hand=True)
    tight = Frame(20)
    assert plan([RADIO, by_hand, TICKETS], tight).keys == ("radio", "paint")
    assert plan([RADIO, PAINT, TICKETS], tight).keys == ("radio", "tickets")
    assert plan([RADIO, ROSTER, by_hand], Frame(17)).keys == ("roster", "radio")


def test_what_a_topic_needs_comes_with_it_and_takes_its_rank() -> None:
    figures = Item("figures", "report", 5, 3, 4, rank=IF_TIME)
    review = Item("review", "manager", 10, 5, 8, rank=FIRST, after=("figures",))
    made = plan([figures, review, TICKETS], Frame(20))
    assert made.keys[:2] == ("figures", "review")
    assert made.worth[0] == 12
    assert str(made.slots[0].reason) == "Comes before review, which needs it."


def test_musts_that_do_not_fit_are_said_in_minutes_with_the_ways_out() -> None:
    long = [Item("audit", "manager", 30, 20, 6, must=True), Item("accident", "report", 30, 20, 8, must=True)]
    made = plan([*long, LOCKERS], Frame(30))
    assert table(made) == [("accident", 26), ("lockers", 4)]
    assert str(made.infeasible) == "What must be discussed needs 40 minutes; there are 30: 10 too many."
    assert [str(way) for way in made.ways_out] == [
        "Let audit be left out: 20 minutes.",
        "Make the meeting 10 minutes longer.",
    ]


def test_a_delicate_topic_neither_opens_nor_ends_the_meeting_where_that_can_be_helped() -> None:
    delicate = Item("delicate", "report", 5, 3, 9, sensitive=True)
    others = [Item("one", "manager", 5, 3, 8), Item("two", "report", 5, 3, 7)]
    made = plan([delicate, *others], Frame(15))
    assert made.keys == ("one", "delicate", "two")
    assert [slot.reason.code for slot in made.slots] == ["for_sensitive", "sensitive", "in_turn"]
    assert plan([delicate, others[0]], Frame(10)).keys == ("delicate", "one")
    fixed = Frame(15, order=("delicate", "one", "two"))
    assert plan([delicate, *others], fixed).keys == ("delicate", "one", "two")


def test_a_late_topic_moves_nothing() -> None:
    issued = plan([RADIO, LOCKERS, TICKETS], Frame(40))
    late = Item("late", "manager", 5, 3, 12, tiebreak=9)
    made = plan([RADIO, LOCKERS, TICKETS, late], Frame(40, order=issued.keys))
    assert tuple(key for key in made.keys if key != "late") == issued.keys
    assert made.slot("late") is not None


def test_every_pair_that_gives_way_is_listed() -> None:
    items = [RADIO, replace(ROSTER, after=("radio",)), LOCKERS]
    made = plan(items, Frame(40, order=("roster", "radio", "lockers")))
    assert made.given_up == (("roster", "radio"),)
    assert made.keys.index("radio") < made.keys.index("roster") < made.keys.index("lockers")
