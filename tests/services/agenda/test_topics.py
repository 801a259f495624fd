"""Topics: added, refused, edited, weighed, parked, withdrawn."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from uuid import uuid4

import pytest

from accounts.models import Person
from oneonone.models import (
    Importance,
    Line,
    Meeting,
    MustDiscuss,
    Order,
    Placement,
    Proposal,
    Side,
    Topic,
    TopicAfter,
)
from oneonone.planner import Plan
from oneonone.selectors.agenda import orders, planner_input
from oneonone.services.agenda import importance, topics
from oneonone.services.refusals import Circle, MustStays, NotNow, OutOfRange, Refusal, Stale, TooLong, TooMany
from tests.scene import MADE, QUARTERLY, Brought, coming_of, make_line, make_topic, placement_of

CRANE = topics.Wording(title="Crane slot at the Skerry pontoon")


def add(line: Line, actor: Person, wording: topics.Wording = CRANE, **more: object) -> Topic:
    return topics.add(line=line, wording=wording, actor=actor, now=MADE, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("kind", "wanted", "least"),
    [
        ("update", 5, 3),
        ("question", 5, 3),
        ("idea", 10, 5),
        ("obstacle", 10, 5),
        ("achievement", 5, 3),
        ("feedback", 10, 5),
        ("growth", 15, 8),
    ],
)
def test_a_line_of_text_is_enough_and_the_kind_gives_the_minutes(
    line: Line, manager: Person, kind: str, wanted: int, least: int
) -> None:
    topic = add(line, manager, replace(CRANE, kind=kind))
    assert (topic.minutes_wanted, topic.minutes_least) == (wanted, least)
    assert topic.outcome_wanted == Topic.Outcome.INFORM


def test_the_minutes_asked_are_copied_to_the_coming_meeting(line: Line, report: Person) -> None:
    topic = add(line, report, replace(CRANE, minutes_wanted=12, minutes_least=7))
    placement = placement_of(topic)
    assert placement.meeting == coming_of(line)
    assert (placement.minutes_wanted, placement.minutes_least, placement.is_late) == (12, 7, False)
    assert topic.side == Side.REPORT


@pytest.mark.parametrize(
    ("field", "wording"),
    [
        ("minutes_wanted", replace(CRANE, minutes_wanted=0)),
        ("minutes_wanted", replace(CRANE, minutes_wanted=-5)),
        ("minutes_wanted", replace(CRANE, minutes_wanted=241)),
        ("minutes_least", replace(CRANE, minutes_wanted=10, minutes_least=11)),
        ("minutes_least", replace(CRANE, minutes_wanted=10, minutes_least=0)),
        ("kind", replace(CRANE, kind="gossip")),
        ("outcome_wanted", replace(CRANE, outcome_wanted="applause")),
        ("every_nth", replace(CRANE, every_nth=0)),
        ("every_nth", replace(CRANE, every_nth=27)),
        ("title", replace(CRANE, title="  ")),
        ("title", replace(CRANE, title="x" * 201)),
        ("title", replace(CRANE, title="two\nlines")),
        ("title", replace(CRANE, title="\u202ereversed")),
        ("detail", replace(CRANE, detail="x" * 4001)),
    ],
)
def test_what_cannot_be_kept_is_refused_by_field_and_nothing_is_stored(
    line: Line, manager: Person, field: str, wording: topics.Wording
) -> None:
    with pytest.raises((OutOfRange, TooLong)) as refusal:
        add(line, manager, wording)
    assert refusal.value.field == field
    assert str(refusal.value.accepted)
    assert not Topic.objects.exists()


def test_a_topic_longer_than_the_meeting_has_for_topics_is_refused_with_the_most_it_can_have(
    line: Line, manager: Person
) -> None:
    # 50 minutes, 4 of them to arrive and a tenth to read back.
    with pytest.raises(OutOfRange) as refusal:
        add(line, manager, replace(CRANE, minutes_wanted=42))
    assert refusal.value.field == "minutes_wanted"
    assert "41" in str(refusal.value.accepted)
    assert add(line, manager, replace(CRANE, minutes_wanted=41)).minutes_wanted == 41


def test_the_usual_minutes_are_cut_to_a_short_meeting(manager: Person, report: Person) -> None:
    short = make_line(manager, report, terms=replace(QUARTERLY, minutes=15))
    # 15 minutes: 3 to open, 3 to close.
    assert add(short, manager, replace(CRANE, kind="growth")).minutes_wanted == 9


def test_the_same_client_key_makes_one_topic(line: Line, manager: Person) -> None:
    key = uuid4()
    first = add(line, manager, client_key=key)
    second = add(line, manager, client_key=key)
    assert first.pk == second.pk
    assert Topic.objects.count() == Placement.objects.count() == 1


def test_a_refused_topic_uses_no_key_up(line: Line, manager: Person) -> None:
    key = uuid4()
    with pytest.raises(TooLong):
        add(line, manager, replace(CRANE, title=""), client_key=key)
    assert add(line, manager, client_key=key).title == CRANE.title


def test_nobody_but_a_side_adds(line: Line, outsider: Person, administrator: Person) -> None:
    for person in (outsider, administrator):
        with pytest.raises(NotNow):
            add(line, person)


def test_on_a_line_of_one_alone_no_words_are_stored_in_plain(manager: Person) -> None:
    alone = Line.objects.create(
        manager=manager,
        report_name="Yusuf",
        start=Line.Start.ALONE,
        starts_on=MADE.date(),
        created_by=manager,
        created_at=MADE,
    )
    with pytest.raises(NotNow):
        add(alone, manager)
    assert not Topic.objects.exists()


# --- edited


def edit(topic: Topic, actor: Person, wording: topics.Wording, version: int | None = None) -> Plan | None:
    return topics.edit(topic=topic, wording=wording, version=version or topic.version, actor=actor, now=MADE)


def test_only_the_raiser_edits(line: Line, manager: Person, report: Person) -> None:
    topic = add(line, manager)
    with pytest.raises(NotNow):
        edit(topic, report, replace(CRANE, title="Mine now"))


def test_a_stale_edit_shows_the_other_text_and_changes_nothing(line: Line, manager: Person) -> None:
    topic = add(line, manager)
    seen = topic.version
    edit(topic, manager, replace(CRANE, title="Crane in January", detail="The harbour asks by Friday."))
    with pytest.raises(Stale) as refusal:
        edit(topic, manager, replace(CRANE, title="Crane in March"), version=seen)
    assert refusal.value.theirs == {"title": "Crane in January", "detail": "The harbour asks by Friday."}
    assert refusal.value.version == topic.version
    topic.refresh_from_db()
    assert topic.title == "Crane in January"


def test_minutes_changed_before_the_order_is_issued_change_what_is_asked(line: Line, manager: Person) -> None:
    topic = add(line, manager)
    edit(topic, manager, replace(CRANE, minutes_wanted=20, minutes_least=10))
    placement = placement_of(topic)
    assert (placement.minutes_wanted, placement.minutes_least) == (20, 10)
    assert not Order.objects.exists()


def test_minutes_changed_afterwards_make_a_new_version_in_the_order_there_was(
    issued_meeting: Meeting, brought: Brought, manager: Person
) -> None:
    before = orders.latest(issued_meeting)
    assert before is not None
    topic = Topic.objects.get(pk=brought.crane.pk)
    wording = topics.Wording(title=topic.title, kind=topic.kind, minutes_wanted=8, minutes_least=8)
    edit(topic, manager, wording)
    after = orders.latest(issued_meeting)
    assert after is not None
    assert (after.number, after.cause) == (2, Order.Cause.CHANGED)
    assert [slot["key"] for slot in after.plan["slots"]] == [slot["key"] for slot in before.plan["slots"]]
    box = next(s for s in after.plan["slots"] if s["key"] == str(placement_of(topic).pk))
    assert box["end"] - box["start"] == 8


def test_words_alone_change_no_order(issued_meeting: Meeting, brought: Brought, manager: Person) -> None:
    topic = Topic.objects.get(pk=brought.crane.pk)
    edit(topic, manager, topics.Wording(title="Crane slot", kind=topic.kind, minutes_wanted=12))
    assert issued_meeting.orders.count() == 1


# --- after


def test_topics_that_come_after_each_other_in_a_circle_are_refused(line: Line, manager: Person) -> None:
    first, second, third = (add(line, manager, replace(CRANE, title=t)) for t in ("one", "two", "three"))
    say = replace(CRANE, title="any")
    topics.edit(topic=second, wording=say, version=1, actor=manager, now=MADE, after=[first])
    topics.edit(topic=third, wording=say, version=1, actor=manager, now=MADE, after=[second])
    with pytest.raises(Circle) as refusal:
        topics.edit(topic=first, wording=say, version=1, actor=manager, now=MADE, after=[third])
    assert refusal.value.field == "after"
    first.refresh_from_db()
    assert (first.title, first.version) == ("one", 1)


def test_a_topic_comes_after_topics_of_its_own_line_only(
    line: Line, peer_line: Line, manager: Person
) -> None:
    elsewhere = add(peer_line, manager)
    with pytest.raises(OutOfRange) as refusal:
        add(line, manager, after=[elsewhere])
    assert refusal.value.field == "after"


def test_what_a_topic_comes_after_can_be_taken_back(line: Line, manager: Person) -> None:
    first = add(line, manager)
    second = add(line, manager, replace(CRANE, title="Then the pontoon"), after=[first])
    assert TopicAfter.objects.filter(topic=second, earlier=first).exists()
    topics.edit(topic=second, wording=CRANE, version=second.version, actor=manager, now=MADE, after=[])
    assert not TopicAfter.objects.exists()


# --- weighed


def test_each_side_says_its_own_importance_and_each_word_is_a_row(
    line: Line, manager: Person, report: Person
) -> None:
    topic = add(line, manager, importance="first")
    importance.set_importance(topic=topic, level="if_time", actor=report, now=MADE)
    assert planner_input.levels_of(topic) == {Side.MANAGER: "first", Side.REPORT: "if_time"}
    importance.set_importance(topic=topic, level="in_turn", actor=manager, now=MADE)
    assert planner_input.levels_of(topic) == {Side.REPORT: "if_time", Side.MANAGER: "in_turn"}
    assert Importance.objects.count() == 2


def test_an_importance_of_another_name_is_refused(line: Line, manager: Person) -> None:
    with pytest.raises(OutOfRange) as refusal:
        importance.set_importance(topic=add(line, manager), level="urgent", actor=manager, now=MADE)
    assert refusal.value.field == "importance"


def test_a_side_has_one_must_discuss_and_the_later_one_counts(
    line: Line, manager: Person, report: Person
) -> None:
    first = add(line, manager, must=True)
    second = add(line, manager, must=True)
    third = add(line, report, must=True)
    marked = {(row.side, row.placement.topic_id) for row in MustDiscuss.objects.select_related("placement")}
    assert marked == {(Side.MANAGER, second.pk), (Side.REPORT, third.pk)}
    topics.set_must(placement=placement_of(first), must=False, actor=manager, now=MADE)
    assert MustDiscuss.objects.filter(side=Side.MANAGER).get().placement.topic_id == second.pk


# --- parked and withdrawn


def test_a_parked_topic_asks_no_time_until_it_is_taken_up_with_the_minutes_it_has_then(
    line: Line, manager: Person, report: Person
) -> None:
    topic = add(line, manager)
    topics.park(topic=topic, actor=report, now=MADE)
    assert topic.state == Topic.State.PARKED
    assert planner_input.undecided(coming_of(line)) == []
    edit(topic, manager, replace(CRANE, minutes_wanted=9, minutes_least=4))
    topics.unpark(topic=topic, actor=report, now=MADE)
    (placement,) = planner_input.undecided(coming_of(line))
    assert (placement.minutes_wanted, placement.minutes_least) == (9, 4)


def test_only_a_parked_topic_is_unparked(line: Line, manager: Person) -> None:
    with pytest.raises(NotNow):
        topics.unpark(topic=add(line, manager), actor=manager, now=MADE)


def test_the_raiser_withdraws_and_nobody_else(line: Line, manager: Person, report: Person) -> None:
    topic = add(line, manager)
    with pytest.raises(NotNow):
        topics.withdraw(topic=topic, actor=report, now=MADE)
    topics.withdraw(topic=topic, actor=manager, now=MADE)
    assert (topic.state, topic.placements.get().outcome) == ("withdrawn", "withdrawn")
    with pytest.raises(NotNow):
        topics.withdraw(topic=topic, actor=manager, now=MADE)


def test_what_the_other_side_must_discuss_can_be_neither_parked_nor_withdrawn(
    line: Line, manager: Person, report: Person
) -> None:
    topic = add(line, manager)
    topics.set_must(placement=placement_of(topic), must=True, actor=report, now=MADE)
    with pytest.raises(MustStays):
        topics.withdraw(topic=topic, actor=manager, now=MADE)
    with pytest.raises(MustStays):
        topics.park(topic=topic, actor=manager, now=MADE)
    topics.park(topic=topic, actor=report, now=MADE)
    assert not MustDiscuss.objects.exists()


def test_the_running_topic_stays(under_way_meeting: Meeting, brought: Brought, manager: Person) -> None:
    with pytest.raises(NotNow):
        topics.withdraw(topic=brought.crane, actor=manager, now=MADE)


def test_a_withdrawn_topic_leaves_the_issued_order_and_takes_its_proposal_along(
    issued_meeting: Meeting, brought: Brought, report: Person, now: dt.datetime
) -> None:
    key = str(placement_of(brought.licence).pk)
    late = make_topic(issued_meeting.line, report, "A long one", now=now, minutes=35)
    proposal = Proposal.objects.get(placement__topic=late)
    topics.withdraw(topic=brought.licence, actor=report, now=now)
    topics.withdraw(topic=late, actor=report, now=now)
    latest = orders.latest(issued_meeting)
    assert latest is not None
    assert key not in [slot["key"] for slot in latest.plan["slots"]]
    proposal.refresh_from_db()
    assert proposal.state == Proposal.State.WITHDRAWN


def test_a_refusal_says_what_would_be_accepted_in_its_own_text(line: Line, manager: Person) -> None:
    with pytest.raises(Refusal) as refusal:
        add(line, manager, replace(CRANE, minutes_wanted=241))
    assert "240" in str(refusal.value)


def test_an_agenda_holds_sixty_topics_and_a_parked_one_waits_for_room(line: Line, manager: Person) -> None:
    parked = add(line, manager)
    topics.park(topic=parked, actor=manager, now=MADE)
    Topic.objects.bulk_create(
        Topic(
            line=line,
            raiser=manager,
            side=Side.MANAGER,
            title=f"Berth {number}",
            minutes_wanted=5,
            minutes_least=3,
            created_at=MADE,
            changed_at=MADE,
        )
        for number in range(topics.MOST_TOPICS)
    )
    with pytest.raises(TooMany) as refused:
        add(line, manager)
    assert refused.value.field == "title"
    with pytest.raises(TooMany):
        topics.unpark(topic=parked, actor=manager, now=MADE)
    Topic.objects.filter(title="Berth 7").update(state=Topic.State.FINISHED)
    topics.unpark(topic=parked, actor=manager, now=MADE)
    assert placement_of(parked).outcome == Placement.Outcome.UNDECIDED
