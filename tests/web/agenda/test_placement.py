"""Topics placed by hand on the page: what it costs is shown before it is taken, and either side undoes it."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from django.urls import reverse

from accounts.models import Person
from oneonone.models import Line, Meeting, Order, Proposal, Topic
from oneonone.selectors.agenda import planning
from oneonone.services.agenda import issuing, order_versions, placement_by_hand, topics
from tests.cast import ClientFor, assert_not_sees, assert_sees, body_of, queries
from tests.scene import Brought, make_topic, placement_of
from tests.services.agenda.test_placement_by_hand import stiff
from tests.web.gallery.markup import read
from tests.web.taking import take, token_in


def titles(meeting: Meeting) -> list[str]:
    order: Order = meeting.orders.order_by("-number").first()  # type: ignore[assignment]
    names = {str(row.pk): row.topic.title for row in meeting.placements.select_related("topic")}
    return [names[slot["key"]] for slot in order.plan["slots"]]


def path(name: str, topic: Topic) -> str:
    return reverse(name, args=[placement_of(topic).pk])


@pytest.fixture
def tight(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> dict[str, Topic]:
    """An issued order of a roster (25 minutes) and a dock (10), not to be shortened; paint is left out."""
    made = {
        "roster": stiff(line, report, "The roster", 25),
        "dock": stiff(line, manager, "The dock", 10),
        "paint": stiff(line, manager, "Paint", 20, importance="if_time"),
    }
    issuing.issue(meeting=meeting, actor=manager, now=now)
    return made


# --- one place on


def test_one_press_moves_a_topic_one_place_and_says_when_it_now_begins(
    client_for: ClientFor, issued_meeting: Meeting, brought: Brought, report: Person
) -> None:
    before = titles(issued_meeting)
    second = issued_meeting.placements.get(topic__title=before[1])
    client = client_for(report)
    answer = client.post(reverse("placement-move", args=[second.pk]), {"places": "-1"}, follow=True)
    assert titles(issued_meeting)[:2] == [before[1], before[0]]
    assert_sees(answer, f"“{before[1]}” begins at 10:04, not at ")
    assert_sees(answer, "Undo the last move")


def test_a_place_by_hand_is_left_to_the_planner_from_the_page_that_moves_the_topic(
    client_for: ClientFor, meeting: Meeting, line: Line, manager: Person, report: Person
) -> None:
    roster, dock = stiff(line, report, "The roster", 25), stiff(line, report, "The dock", 10)
    paint = stiff(line, manager, "Paint", 10, importance="if_time")
    client = client_for(manager)
    take(client, path("placement-bring-in", paint), {})
    assert_sees(client.get(path("placement-move", paint)), "Give up this place")
    assert_not_sees(client.get(path("placement-move", roster)), "Give up this place")
    shown = client.post(path("placement-start", paint), {"release": "1"})
    assert_sees(shown, "Leave “Paint” to the planner?")
    assert_sees(shown, "“Paint” loses its place: it is kept for next time.")
    take(client, path("placement-start", paint), {"release": "1"})
    assert titles(meeting) == [dock.title, roster.title]


def test_where_a_topic_is_already_is_no_place_to_move_it_to(
    client_for: ClientFor, issued_meeting: Meeting, report: Person
) -> None:
    first, *_others, last = (Topic.objects.get(title=title) for title in titles(issued_meeting))
    client = client_for(report)
    for topic, ends in ((first, True), (last, False)):
        page = read(body_of(client.get(path("placement-move", topic))))
        offered = [choice.attributes["value"] for choice in page.all("input", type="radio")]
        assert ("end" in offered) is ends
        assert str(placement_of(topic).pk) not in offered


def test_the_page_comes_back_at_the_topic_that_was_moved(
    client_for: ClientFor, issued_meeting: Meeting, brought: Brought, report: Person
) -> None:
    first, second, *_rest = titles(issued_meeting)
    client = client_for(report)
    topic = Topic.objects.get(title=second)
    answer = client.post(path("placement-move", topic), {"places": "-1"})
    assert answer.headers["Location"].endswith(f"#topic-{topic.pk}")
    answer = client.post(path("placement-move", Topic.objects.get(title=first)), {"places": "1"})
    assert answer.headers["Location"].endswith(f"#topic-{Topic.objects.get(title=first).pk}")


def test_either_side_takes_a_move_back(
    client_for: ClientFor, issued_meeting: Meeting, brought: Brought, manager: Person, report: Person
) -> None:
    before = titles(issued_meeting)
    last = issued_meeting.placements.get(topic__title=before[-1])
    client_for(report).post(reverse("placement-move", args=[last.pk]), {"places": "-99"})
    assert titles(issued_meeting)[0] == before[-1]
    client_for(manager).post(reverse("order-undo", args=[issued_meeting.pk]))
    assert titles(issued_meeting) == before


@pytest.mark.parametrize("said", [{}, {"places": "0"}, {"places": "up"}, {"places": "999"}])
def test_a_move_to_nowhere_is_told_and_moves_nothing(
    said: dict[str, str], client_for: ClientFor, issued_meeting: Meeting, brought: Brought, report: Person
) -> None:
    before = titles(issued_meeting)
    answer = client_for(report).post(path("placement-move", brought.licence), said, follow=True)
    assert_sees(answer, "Say how many places: a whole number, below 0 for earlier.")
    assert titles(issued_meeting) == before
    assert issued_meeting.orders.count() == 1


# --- to a place


def test_a_topic_is_moved_before_another_one_or_to_the_end_from_its_page(
    client_for: ClientFor, issued_meeting: Meeting, brought: Brought, report: Person
) -> None:
    first, *_between, last = titles(issued_meeting)
    client, mover = client_for(report), Topic.objects.get(title=last)
    page = client.get(path("placement-move", mover))
    assert_sees(page, f"Before “{first}”, 10:04")
    goal = str(placement_of(Topic.objects.get(title=first)).pk)
    client.post(path("placement-move", mover), {"place": goal})
    assert titles(issued_meeting)[0] == last
    client.post(path("placement-move", mover), {"place": "end"})
    assert titles(issued_meeting)[-1] == last


def test_a_place_that_is_not_offered_is_refused_at_its_field(
    client_for: ClientFor, issued_meeting: Meeting, brought: Brought, report: Person
) -> None:
    own = str(placement_of(brought.sheet).pk)
    answer = client_for(report).post(path("placement-move", brought.sheet), {"place": own})
    assert answer.status_code == 422
    assert "is not offered. Choose one of those offered." in body_of(answer)


def test_a_place_before_what_it_comes_after_is_refused_in_words(
    client_for: ClientFor, line: Line, meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    first = make_topic(line, manager, "What the harbour says")
    wording = topics.Wording(title="What we answer")
    second = topics.add(line=line, wording=wording, actor=manager, now=now, after=[first])
    issuing.issue(meeting=meeting, actor=manager, now=now)
    answer = client_for(manager).post(path("placement-move", second), {"place": str(placement_of(first).pk)})
    assert answer.status_code == 422
    assert "A place behind the topics it comes after" in body_of(answer)


# --- to a time


def test_a_start_that_costs_nothing_is_set_at_once_and_given_up_again(
    client_for: ClientFor, meeting: Meeting, line: Line, report: Person
) -> None:
    topic = make_topic(line, report, "Gate", minutes=5)
    client = client_for(report)
    answer = client.post(path("placement-start", topic), {"minute": "10:20"}, follow=True)
    assert_sees(answer, "“Gate” begins at 10:20, not at 10:04.")
    assert placement_of(topic).pinned_minute == 20
    assert_sees(client.get(path("placement-move", topic)), "Let it begin wherever it comes")
    client.post(path("placement-start", topic), {"release": "1"})
    assert placement_of(topic).pinned_minute is None


def test_a_start_that_pushes_something_out_is_shown_first_and_taken_after(
    client_for: ClientFor, meeting: Meeting, tight: dict[str, Topic], manager: Person
) -> None:
    client, start = client_for(manager), path("placement-start", tight["dock"])
    shown = client.post(start, {"minute": "10:20"})
    assert_sees(shown, "Move “The dock”?")
    assert_sees(shown, "It pushes out “The roster”: kept for next time.")
    assert_sees(shown, "Leave it as it was")
    assert titles(meeting) == ["The dock", "The roster"]
    answer = client.post(start, {"minute": "10:20", "taken": token_in(body_of(shown))}, follow=True)
    assert_sees(answer, "It pushes out “The roster”: kept for next time.")
    assert titles(meeting) == ["The dock"]


def test_a_yes_to_an_order_that_has_changed_since_shows_the_new_one(
    client_for: ClientFor,
    meeting: Meeting,
    line: Line,
    tight: dict[str, Topic],
    manager: Person,
    report: Person,
    now: dt.datetime,
) -> None:
    client, start = client_for(manager), path("placement-start", tight["dock"])
    shown = client.post(start, {"minute": "10:20"})
    make_topic(line, report, "Gate", minutes=2, now=now)
    late = client.post(start, {"minute": "10:20", "taken": token_in(body_of(shown))})
    assert late.status_code == 412
    assert "It has changed in the meantime: this is what it would do now" in body_of(late)
    assert titles(meeting) == ["The dock", "The roster", "Gate"]


@pytest.mark.parametrize(
    ("said", "accepted"),
    [
        ("", "Enter a time, such as 09:30."),
        ("half past", "That is not a time."),
        ("10:03", "from 10:04 to 10:44 it can begin."),
        ("10:45", "from 10:04 to 10:44 it can begin."),
        ("22:20", "from 10:04 to 10:44 it can begin."),
    ],
)
def test_a_start_that_cannot_be_is_refused_at_its_field_and_keeps_what_was_typed(
    said: str,
    accepted: str,
    client_for: ClientFor,
    issued_meeting: Meeting,
    brought: Brought,
    report: Person,
) -> None:
    answer = client_for(report).post(path("placement-start", brought.sheet), {"minute": said})
    assert answer.status_code == 422
    assert accepted in body_of(answer)
    assert f'value="{said}"' in body_of(answer) or not said
    assert placement_of(brought.sheet).pinned_minute is None


def test_a_start_over_the_other_sides_must_discuss_is_refused_in_words(
    client_for: ClientFor,
    meeting: Meeting,
    tight: dict[str, Topic],
    manager: Person,
    report: Person,
    now: dt.datetime,
) -> None:
    topics.set_must(placement=placement_of(tight["roster"]), must=True, actor=report, now=now)
    answer = client_for(manager).post(path("placement-start", tight["dock"]), {"minute": "10:20"})
    assert answer.status_code == 422
    assert "A start that leaves room for what must be discussed" in body_of(answer)


# --- brought in


def test_a_topic_left_out_is_brought_in_after_it_was_shown_what_it_pushes_out(
    client_for: ClientFor, meeting: Meeting, line: Line, manager: Person, report: Person
) -> None:
    stiff(line, report, "The roster", 25)
    paint = stiff(line, manager, "Paint", 20, importance="if_time")
    client = client_for(manager)
    assert_sees(client.get(path("placement", paint)), "Bring it in")
    shown = client.post(path("placement-bring-in", paint))
    assert_sees(shown, "“Paint” gets a place at 10:04, for 20 minutes.")
    assert_sees(shown, "It pushes out “The roster”: kept for next time.")
    take(client, path("placement-bring-in", paint), {})
    assert titles(meeting) == ["Paint"]


def test_after_issue_it_is_said_that_the_other_side_is_asked_and_only_then_asked(
    client_for: ClientFor, meeting: Meeting, tight: dict[str, Topic], manager: Person, report: Person
) -> None:
    client = client_for(manager)
    shown = client.post(path("placement-bring-in", tight["paint"]))
    assert_sees(shown, "The order is issued, so Tomas is asked first.")
    assert_sees(shown, "Ask for it")
    assert not Proposal.objects.exists()
    take(client, path("placement-bring-in", tight["paint"]), {})
    page = reverse("meeting", args=[meeting.pk])
    assert_sees(client_for(report).get(page), "asks for a place for “Paint” (20 minutes)")
    answer = reverse("proposal-answer", args=[Proposal.objects.get().pk])
    shown = client_for(report).post(answer, {"answer": "accept"})
    assert_sees(shown, "Make room for “Paint”?")
    assert_sees(shown, "It pushes out “The roster”: kept for next time.")
    assert Proposal.objects.get().state == Proposal.State.OPEN
    take(client_for(report), answer, {"answer": "accept"})
    assert "Paint" in titles(meeting)


def test_a_topic_is_brought_in_at_a_time_on_the_page_that_the_agenda_leads_to(
    client_for: ClientFor, meeting: Meeting, line: Line, manager: Person, report: Person
) -> None:
    stiff(line, report, "The roster", 25)
    paint = stiff(line, manager, "Paint", 20, importance="if_time")
    client, bring = client_for(manager), path("placement-bring-in", paint)
    topic_page = read(body_of(client.get(path("placement", paint))))
    assert "Bring in at a time" in topic_page.one("a", href=path("placement-move", paint)).words()
    form = read(body_of(client.get(path("placement-move", paint)))).one("form", action=bring)
    # Nothing is filled in: without a time the planner finds the place.
    assert form.one("input", name="minute").attributes.get("value") is None
    shown = client.post(bring, {"minute": "10:12"})
    assert_sees(shown, "“Paint” gets a place at 10:12, for 20 minutes.")
    assert_sees(shown, "It pushes out “The roster”: kept for next time.")
    assert not meeting.orders.exists()
    take(client, bring, {"minute": "10:12"})
    assert titles(meeting) == ["Paint"]
    assert placement_of(paint).pinned_minute == 12


def test_a_topic_is_brought_in_without_a_time_by_the_same_form(
    client_for: ClientFor, meeting: Meeting, line: Line, manager: Person, report: Person
) -> None:
    stiff(line, report, "The roster", 25)
    paint = stiff(line, manager, "Paint", 20, importance="if_time")
    take(client_for(manager), path("placement-bring-in", paint), {"minute": ""})
    assert titles(meeting) == ["Paint"]
    assert placement_of(paint).pinned_minute is None


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("09:00", "from 10:04 to 10:44 it can begin"),
        ("23:59", "from 10:04 to 10:44 it can begin"),
        ("noon", "Enter one such as 09:30."),
    ],
)
def test_a_time_that_cannot_be_is_refused_at_its_field_and_kept(
    typed: str,
    said: str,
    client_for: ClientFor,
    meeting: Meeting,
    line: Line,
    manager: Person,
    report: Person,
) -> None:
    stiff(line, report, "The roster", 25)
    paint = stiff(line, manager, "Paint", 20, importance="if_time")
    answer = client_for(manager).post(path("placement-bring-in", paint), {"minute": typed})
    assert answer.status_code == 422
    assert said in body_of(answer)
    assert f'value="{typed}"' in body_of(answer)
    assert not meeting.orders.exists()


def test_a_start_that_the_others_leave_no_room_for_is_refused_at_its_field(
    client_for: ClientFor, meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    roster = stiff(line, report, "The roster", 20)
    placement_by_hand.begin_at(placement=placement_of(roster), minute=8, actor=report, now=now)
    paint = stiff(line, manager, "Paint", 20, importance="if_time")
    answer = client_for(manager).post(path("placement-bring-in", paint), {"minute": "10:10"})
    assert answer.status_code == 422
    assert "A start that leaves room for what must be discussed" in body_of(answer)
    assert 'value="10:10"' in body_of(answer)


def test_after_issue_the_other_side_reads_at_what_time_a_topic_is_asked_for(
    client_for: ClientFor, meeting: Meeting, tight: dict[str, Topic], manager: Person, report: Person
) -> None:
    take(client_for(manager), path("placement-bring-in", tight["paint"]), {"minute": "10:12"})
    page = reverse("meeting", args=[meeting.pk])
    assert_sees(client_for(report).get(page), "asks for a place for “Paint” at 10:12 (20 minutes)")
    assert_sees(client_for(manager).get(page), "You asked for a place for “Paint” at 10:12 (20 minutes).")
    answer = reverse("proposal-answer", args=[Proposal.objects.get().pk])
    take(client_for(report), answer, {"answer": "accept"})
    assert placement_of(tight["paint"]).pinned_minute == 12


def test_a_mark_after_issue_shows_the_order_it_leads_to_and_asks_for_it(
    client_for: ClientFor, meeting: Meeting, tight: dict[str, Topic], manager: Person
) -> None:
    client = client_for(manager)
    take(client, path("placement-must", tight["paint"]), {"must": "1"})
    assert Proposal.objects.get().placement == placement_of(tight["paint"])
    assert titles(meeting) == ["The dock", "The roster"]


def test_nobody_brings_a_topic_in_over_the_other_sides_must_discuss(
    client_for: ClientFor, meeting: Meeting, line: Line, manager: Person, report: Person
) -> None:
    stiff(line, report, "The roster", 25, must=True)
    paint = stiff(line, manager, "Paint", 20)
    answer = client_for(manager).post(path("placement-bring-in", paint), follow=True)
    assert_sees(answer, "A topic that the other side has marked as must-discuss would lose its place.")
    assert not meeting.orders.exists()


def test_a_mark_that_does_not_fit_says_so_before_what_becomes_of_the_others(
    client_for: ClientFor, line: Line, manager: Person, report: Person
) -> None:
    stiff(line, report, "The roster", 30, must=True)
    for title in ("Buoys", "Fenders", "Ropes"):
        stiff(line, manager, title, 12)
    paint = stiff(line, manager, "Paint", 25)
    shown = client_for(manager).post(path("placement-must", paint), {"must": "1"})
    short = "What must be discussed needs at least 55 minutes"
    told = body_of(shown)
    assert short in told
    assert told.index(short) < told.index("It pushes out “The roster”")
    # Of the two marks one fits, and of equal worth the one with fewer minutes: 16 are left, one topic of 12.
    assert re.search("“(Buoys|Fenders|Ropes)” gets a place", told)


# --- minutes and importance


def test_minutes_that_make_another_order_are_shown_before_they_are_kept(
    client_for: ClientFor, meeting: Meeting, brought: Brought, manager: Person
) -> None:
    client, edit = client_for(manager), reverse("topic-edit", args=[brought.crane.pk])
    typed = {
        "title": "Crane slot in January",
        "kind": "obstacle",
        "outcome_wanted": "decide",
        "minutes_wanted": 6,
        "version": brought.crane.version,
    }
    shown = client.post(edit, typed)
    assert_sees(shown, "“Crane slot at the Skerry pontoon” has 6 minutes fewer.")
    brought.crane.refresh_from_db()
    assert (brought.crane.minutes_wanted, brought.crane.version) == (12, 1)
    further = client.post(edit, {**typed, "again": "1"})
    assert_sees(further, 'value="Crane slot in January"')
    take(client, edit, typed)
    brought.crane.refresh_from_db()
    assert (brought.crane.title, brought.crane.minutes_wanted) == ("Crane slot in January", 6)


def test_words_alone_are_saved_at_once_and_it_says_that_no_minutes_change(
    client_for: ClientFor, meeting: Meeting, brought: Brought, manager: Person
) -> None:
    edit = reverse("topic-edit", args=[brought.crane.pk])
    typed = {
        "title": "Crane slot in January",
        "kind": "obstacle",
        "outcome_wanted": "decide",
        "minutes_wanted": 12,
        "minutes_least": 6,
        "version": brought.crane.version,
    }
    answer = client_for(manager).post(edit, typed, follow=True)
    assert_sees(answer, "“Crane slot in January” is changed. No topic’s minutes change.")


def test_importance_that_changes_the_order_is_shown_before_it_is_kept(
    client_for: ClientFor, meeting: Meeting, line: Line, manager: Person, report: Person
) -> None:
    stiff(line, report, "The roster", 25)
    paint = stiff(line, manager, "Paint", 20, importance="if_time")
    client, importance = client_for(manager), reverse("topic-importance", args=[paint.pk])
    shown = client.post(importance, {"importance": "first"})
    assert_sees(shown, "“Paint” comes first?")
    assert paint.importances.get().level == "if_time"
    assert_not_sees(client.get(reverse("meeting", args=[meeting.pk])), "You say: first.")
    take(client, importance, {"importance": "first"})
    assert paint.importances.get().level == "first"


# --- what it costs to ask


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("placement-move", {"place": "end"}),
        ("placement-start", {"minute": "10:07"}),
        ("placement-bring-in", {}),
        ("placement-bring-in", {"minute": "10:05"}),
    ],
)
def test_the_queries_of_an_act_do_not_grow_with_the_topics(
    name: str,
    data: dict[str, str],
    client_for: ClientFor,
    line: Line,
    meeting: Meeting,
    manager: Person,
    report: Person,
) -> None:
    client, counts = client_for(report), []
    big = stiff(line, report, "Everything", 40, importance="if_time")
    for topics_more in (3, 0, 6):
        for number in range(topics_more):
            stiff(line, manager, f"Buoy {topics_more}{number}", 3)
        first = Topic.objects.get(placements__pk=planning.standing(meeting).plan.keys[0])
        topic = big if name == "placement-bring-in" else first
        with queries() as made:
            shown = client.post(path(name, topic), data)
        if shown.status_code == 200:
            take(client, path(name, topic), data)
        counts.append((shown.status_code, len(made)))
        order_versions.undo(meeting=meeting, actor=report, now=dt.datetime(2026, 11, 25, 10, tzinfo=dt.UTC))
    # The first has no order before it; from then on only the topics are more.
    assert counts[1] == counts[2]
