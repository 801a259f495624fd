"""Why a topic is where it is, as a page and in the agenda, and the page of how the order comes about."""

from __future__ import annotations

import pytest
from django.db.models import F
from django.urls import reverse

from accounts.models import Person
from oneonone.models import Importance, Line, Meeting, Placement, Topic
from oneonone.services.agenda import importance, placement_by_hand, topics
from tests.cast import ClientFor, assert_not_sees, assert_sees, body_of
from tests.scene import MADE, STARTS, Brought, coming_of, make_topic, placement_of
from tests.web.gallery.markup import read

FIRST, IF_TIME = Importance.Level.FIRST, Importance.Level.IF_TIME


@pytest.fixture
def full(line: Line, manager: Person, report: Person) -> dict[str, Topic]:
    """As in the test of the account: 41 minutes, of which the paint and the ropes get none."""
    brought = {
        "berth": make_topic(line, manager, "Berth two", minutes=20, importance=FIRST, kind="obstacle"),
        "radio": make_topic(line, report, "Radio procedure", minutes=10, importance=FIRST),
        "fenders": make_topic(line, report, "Fenders", minutes=10),
        "paint": make_topic(line, report, "Paint", minutes=12, importance=IF_TIME),
        "ropes": make_topic(line, manager, "Ropes", minutes=9, importance=IF_TIME),
    }
    Placement.objects.update(minutes_least=F("minutes_wanted"))
    return brought


def page_of(topic: Topic) -> str:
    return reverse("placement-why", args=[placement_of(topic).pk])


def test_a_topic_that_is_in_says_why_in_a_sentence_and_shows_the_sum_behind_it(
    full: dict[str, Topic], manager: Person, client_for: ClientFor
) -> None:
    page = client_for(manager).get(page_of(full["berth"]))
    for said in (
        "Called first by Ines.",
        "Show the sum",
        "It comes first: that is the highest that one of you said.",
        "Worth: 4 for every topic, 2 for its kind (obstacle); 6 together.",
        "6 in 20 minutes is 0.3 for each minute.",
    ):
        assert_sees(page, said)
    assert_not_sees(page, "What would let it in?")


def test_a_topic_left_out_says_what_it_lacks_and_what_would_let_it_in(
    full: dict[str, Topic], report: Person, client_for: ClientFor
) -> None:
    page = client_for(report).get(page_of(full["paint"]))
    for said in (
        "It needs at least 12 minutes, with 1 minute left.",
        "What would let it in?",
        "If it had to be discussed it would have 12 minutes, and “Radio procedure” and “Fenders” would be",
    ):
        assert_sees(page, said)


def test_whose_word_it_is_that_a_topic_must_be_discussed_is_said(
    full: dict[str, Topic], manager: Person, report: Person, client_for: ClientFor
) -> None:
    topics.set_must(placement=placement_of(full["ropes"]), must=True, actor=manager, now=MADE)
    for person in (manager, report):
        assert_sees(client_for(person).get(page_of(full["ropes"])), "Must be discussed, says Ines.")


def test_a_place_by_hand_names_whose_hand_it_was(
    full: dict[str, Topic], manager: Person, report: Person, client_for: ClientFor
) -> None:
    placement_by_hand.move(placement=placement_of(full["fenders"]), places=-9, actor=report, now=MADE)
    assert_sees(client_for(manager).get(page_of(full["fenders"])), "Put here by Tomas.")


def test_both_sides_words_are_counted_in_the_sum(
    full: dict[str, Topic], manager: Person, report: Person, client_for: ClientFor
) -> None:
    importance.set_importance(topic=full["radio"], level=FIRST, actor=manager, now=MADE)
    page = client_for(report).get(page_of(full["radio"]))
    assert_sees(page, "Called first by both of you.")
    assert_sees(page, "Worth: 4 for every topic, 2 because you both say so; 6 together.")


def test_in_the_agenda_only_the_answer_itself_comes(
    full: dict[str, Topic], manager: Person, client_for: ClientFor
) -> None:
    part = client_for(manager).get(page_of(full["radio"]), headers={"HX-Request": "true"})
    assert_sees(part, "Called first by Tomas.")
    assert_not_sees(part, "<html")
    assert "HX-Request" in part["Vary"]


def test_the_agenda_leads_to_the_answer_for_every_topic_in_it_or_not(
    full: dict[str, Topic], manager: Person, client_for: ClientFor
) -> None:
    client = client_for(manager)
    page = body_of(client.get(reverse("meeting", args=[coming_of(full["radio"].line).pk])))
    for topic in full.values():
        own = reverse("placement", args=[placement_of(topic).pk])
        assert own in page
        assert page_of(topic) in body_of(client.get(own))


def test_once_the_meeting_has_begun_nothing_is_said_of_what_would_let_it_in(
    under_way_meeting: Meeting, brought: Brought, line: Line, report: Person, client_for: ClientFor
) -> None:
    late = make_topic(line, report, "Radio procedure in fog", minutes=30, now=STARTS)
    page = client_for(report).get(page_of(late))
    assert_sees(page, "It is not in this order.")
    assert_not_sees(page, "What would let it in?")


class TestRule:
    def test_it_is_the_two_sentences_and_this_agenda_topic_by_topic(
        self, full: dict[str, Topic], meeting: Meeting, report: Person, client_for: ClientFor
    ) -> None:
        page = client_for(report).get(reverse("how-order", args=[meeting.pk]))
        assert_sees(page, "What must be discussed or is called first comes first and keeps its time.")
        assert_sees(page, "What else fits comes in, what matters more before what matters less;")
        table = read(body_of(page)).one("table")
        rows = [
            [row.one("th").words(), *(cell.words() for cell in row.all("td"))] for row in table.all("tr")[1:]
        ]
        # The radio has .4 for each minute, the berth .3; the fenders are of the next rank.
        assert [*rows[:3], *sorted(rows[3:])] == [
            ["Radio procedure", "first", "4", "10 of 10", "0.4", "10:04", "Called first by Tomas."],
            ["Berth two", "first", "6", "20 of 20", "0.3", "10:14", "Called first by Ines."],
            ["Fenders", "in turn", "4", "10 of 10", "0.4", "10:34", "Comes in turn."],
            [
                "Paint",
                "if time allows",
                "4",
                "0 of 12",
                "–",
                "not in it",
                "It needs at least 12 minutes, with 1 minute left.",
            ],
            [
                "Ropes",
                "if time allows",
                "4",
                "0 of 9",
                "–",
                "not in it",
                "It needs at least 9 minutes, with 1 minute left.",
            ],
        ]

    def test_it_says_that_nobody_is_scored_and_what_adds(
        self, meeting: Meeting, report: Person, client_for: ClientFor
    ) -> None:
        page = client_for(report).get(reverse("how-order", args=[meeting.pk]))
        assert_sees(page, "Nothing here counts, rates or ranks a person.")
        assert_sees(page, "There is no topic on it yet.")
        assert_sees(page, "Within a rank each topic is worth 4")
        assert_sees(page, "Kind obstacle: 2 more.")
        assert_sees(page, "python -m oneonone.planner.simulation")

    def test_the_agenda_leads_to_it(self, meeting: Meeting, report: Person, client_for: ClientFor) -> None:
        page = client_for(report).get(reverse("meeting", args=[meeting.pk]))
        assert reverse("how-order", args=[meeting.pk]) in body_of(page)
