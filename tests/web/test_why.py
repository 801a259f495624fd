"""The full account of a topic's place, as a page and in the agenda, and the page of the rule of worth."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db.models import F
from django.urls import reverse

from accounts.models import Person
from oneonone.models import Importance, Line, Meeting, Placement, Topic
from oneonone.planner import worth
from oneonone.services.agenda import issuing, late_topics, topics
from tests.cast import ClientFor, assert_not_sees, assert_sees, body_of
from tests.scene import MADE, Brought, coming_of, make_topic, placement_of
from tests.web.gallery.markup import read

FIRST, IF_TIME = Importance.Level.FIRST, Importance.Level.IF_TIME


@pytest.fixture
def full(line: Line, manager: Person, report: Person) -> dict[str, Topic]:
    """As in the test of the account: 41 minutes, of which the paint and the ropes get none."""
    brought = {
        "berth": make_topic(line, manager, "Berth two", minutes=20, importance=FIRST, kind="obstacle"),
        "radio": make_topic(line, report, "Radio procedure", minutes=10, importance=FIRST),
        "fenders": make_topic(line, report, "Fenders", minutes=10, importance=FIRST),
        "paint": make_topic(line, report, "Paint", minutes=12, importance=IF_TIME),
        "ropes": make_topic(line, manager, "Ropes", minutes=9, importance=IF_TIME),
    }
    Placement.objects.update(minutes_least=F("minutes_wanted"))
    return brought


def page_of(topic: Topic) -> str:
    return reverse("placement-why", args=[placement_of(topic).pk])


def test_a_topic_that_is_in_is_accounted_for(
    full: dict[str, Topic], manager: Person, client_for: ClientFor
) -> None:
    page = client_for(manager).get(page_of(full["radio"]))
    for said in (
        "Without it “Ropes” would come in.",
        "The agenda as a whole would be worth 10 less.",
        "It has all the 10 minutes asked.",
        "6 for your “in turn”, 12 for the “first” of Tomas Lindqvist: 18 together.",
    ):
        assert_sees(page, said)


def test_where_it_matters_more_a_minute_both_numbers_are_said(
    full: dict[str, Topic], manager: Person, client_for: ClientFor
) -> None:
    page = client_for(manager).get(page_of(full["fenders"]))
    other = client_for(manager).get(page_of(full["radio"]))
    both = body_of(page) + body_of(other)
    assert "18 in 10 minutes is 1.8 for each minute; “Berth two” has 1." in both


def test_a_topic_left_out_is_accounted_for(
    full: dict[str, Topic], report: Person, client_for: ClientFor
) -> None:
    page = client_for(report).get(page_of(full["paint"]))
    for said in (
        "It needs at least 12 minutes, with 1 minute left.",
        "It is worth 8 and would push out “Berth two”, worth 20.",
        "“Ropes” would come in with it.",
        "The agenda as a whole would be worth 4 less.",
        "11 minutes more: in a longer meeting, or with less asked for others.",
        "From a worth of 13 on it comes in by itself; it has 8.",
        "Your word that it comes first would be enough for that.",
    ):
        assert_sees(page, said)


def test_whose_word_it_is_that_a_topic_must_be_discussed_is_said_from_each_side(
    full: dict[str, Topic], manager: Person, report: Person, client_for: ClientFor
) -> None:
    topics.set_must(placement=placement_of(full["ropes"]), must=True, actor=manager, now=MADE)
    assert_sees(client_for(manager).get(page_of(full["ropes"])), "You say that it must be discussed.")
    assert_sees(client_for(report).get(page_of(full["ropes"])), "Ines Okafor says that it must be discussed.")


def test_a_place_by_hand_is_accounted_for_as_such(
    full: dict[str, Topic], report: Person, client_for: ClientFor
) -> None:
    late_topics.bring_in(placement=placement_of(full["paint"]), actor=report, now=MADE)
    page = client_for(report).get(page_of(full["paint"]))
    assert_sees(page, "It was given its place by hand, which wins over the planner.")
    assert_sees(page, "Without it “Berth two” would come in.")
    assert_sees(page, "The agenda as a whole would be worth 4 more.")


def test_where_others_only_gain_minutes_it_says_without_what(
    line: Line, report: Person, client_for: ClientFor
) -> None:
    crane, ropes = (make_topic(line, report, title, minutes=30) for title in ("Crane slot", "Ropes"))
    page = client_for(report).get(page_of(crane))
    assert_sees(page, "Without it no other topic would come in. “Ropes” would have")
    assert_sees(client_for(report).get(page_of(ropes)), "“Crane slot” would have")


def test_what_cannot_come_in_beside_what_stays_says_by_how_much_and_marks_nothing(
    full: dict[str, Topic], manager: Person, report: Person, client_for: ClientFor
) -> None:
    topics.set_must(placement=placement_of(full["berth"]), must=True, actor=manager, now=MADE)
    late_topics.bring_in(placement=placement_of(full["paint"]), actor=report, now=MADE)
    # 20, 12 and 10 minutes of 41.
    page = client_for(report).get(page_of(full["radio"]))
    assert_sees(
        page,
        "It cannot come in: with what must be discussed or has its place by hand it needs at least "
        "42 minutes; there are 41.",
    )


def test_in_the_agenda_only_the_account_itself_comes(
    full: dict[str, Topic], manager: Person, client_for: ClientFor
) -> None:
    part = client_for(manager).get(page_of(full["radio"]), headers={"HX-Request": "true"})
    assert_sees(part, "Without it “Ropes” would come in.")
    assert_not_sees(part, "<html")
    assert "HX-Request" in part["Vary"]


def test_the_agenda_leads_to_the_account_of_every_topic_in_it_or_not(
    full: dict[str, Topic], manager: Person, client_for: ClientFor
) -> None:
    agenda_page = client_for(manager).get(reverse("meeting", args=[coming_of(full["radio"].line).pk]))
    tree = read(body_of(agenda_page))
    for topic in full.values():
        link = tree.one("a", href=page_of(topic))
        assert "data-open-in-place-link" in link.attributes
    assert_sees(agenda_page, "Why not here?")


def test_once_the_meeting_has_begun_it_says_that_no_more_is_worked_out(
    under_way_meeting: Meeting, brought: Brought, report: Person, client_for: ClientFor
) -> None:
    page = client_for(report).get(reverse("placement-why", args=[brought.crane.placements.get().pk]))
    assert_sees(page, "The meeting has begun.")
    assert_not_sees(page, "Without it")


def test_what_does_not_fit_though_it_must_is_said_and_nothing_worked_out(
    full: dict[str, Topic], manager: Person, report: Person, client_for: ClientFor
) -> None:
    Placement.objects.filter(topic=full["paint"]).update(minutes_least=30, minutes_wanted=30)
    for name, person in (("berth", manager), ("paint", report)):
        topics.set_must(placement=placement_of(full[name]), must=True, actor=person, now=MADE)
    page = client_for(manager).get(page_of(full["radio"]))
    assert_sees(page, "What must be discussed does not fit.")
    assert_not_sees(page, "worth 10 less")


def test_a_topic_of_an_issued_order_is_accounted_for_from_what_is_stored(
    full: dict[str, Topic], meeting: Meeting, report: Person, client_for: ClientFor, now: dt.datetime
) -> None:
    issuing.issue(meeting=coming_of(meeting.line), actor=report, now=now)
    assert_sees(client_for(report).get(page_of(full["radio"])), "Without it “Ropes” would come in.")


class TestRule:
    def test_its_numbers_are_those_that_weigh(self, report: Person, client_for: ClientFor) -> None:
        page = read(body_of(client_for(report).get(reverse("how-order"))))
        said, kinds, ages = (
            [[cell.words() for cell in row.all("td")] for row in table.all("tr")[1:]]
            for table in page.all("table")
        )
        levels = [level.value for level in Importance.Level]
        assert said == [
            [str(worth(manager=mine, report=yours, kind="update")) for yours in levels] for mine in levels
        ]
        plain = worth(manager="in_turn", report="in_turn", kind="update")
        by_kind = dict(
            zip([row.one("th").words() for row in page.all("table")[1].all("tr")[1:]], kinds, strict=True)
        )
        named = {kind: adds for names, adds in by_kind.items() for kind in names.split(", ")}
        assert named == {
            str(kind.label): [str(worth(manager="in_turn", report="in_turn", kind=kind.value) - plain)]
            for kind in Topic.Kind
        }
        assert ages == [
            [str(worth(manager="in_turn", report="in_turn", kind="update", kept=n) - plain)]
            for n in (1, 2, 3, 4)
        ]

    def test_it_says_that_nobody_is_scored_and_that_the_hand_wins(
        self, report: Person, client_for: ClientFor
    ) -> None:
        page = client_for(report).get(reverse("how-order"))
        assert_sees(page, "Nothing here counts, rates or ranks a person.")
        assert_sees(page, "The hand wins over all of this but what must be discussed")
        assert_sees(page, "from 4 to 34")
        assert_sees(page, "python -m oneonone.planner.simulation")

    def test_the_agenda_leads_to_it(self, meeting: Meeting, report: Person, client_for: ClientFor) -> None:
        page = client_for(report).get(reverse("meeting", args=[meeting.pk]))
        assert reverse("how-order") in body_of(page)
