"""Minutes by experience on the page of a line: seen by both, switched off by either, of no other line."""

from __future__ import annotations

import pytest
from django.urls import reverse

from accounts.models import Person
from oneonone.models import Line, Placement, Topic
from tests.cast import ClientFor, assert_not_sees, assert_sees, body_of, queries
from tests.scene import coming_of, make_topic, placement_of
from tests.selectors.agenda.test_duration_history import Ran, hold, thrice

OBSTACLE = Topic.Kind.OBSTACLE


@pytest.fixture
def experienced(line: Line, manager: Person) -> Line:
    """Three held meetings in which obstacles ran 30 % longer than asked."""
    thrice(line, manager, Ran(OBSTACLE, 9, 14), Ran(OBSTACLE, 9, 14))
    return line


def test_a_line_without_history_says_what_it_takes(line: Line, report: Person, client_for: ClientFor) -> None:
    page = client_for(report).get(reverse("line", args=[line.pk]))
    assert_sees(page, "Not enough data yet: 3 more meetings held with this page are needed.")


def test_three_meetings_without_a_kind_that_came_up_thrice_say_so(
    line: Line, manager: Person, client_for: ClientFor
) -> None:
    hold(line, manager, Ran(OBSTACLE, 9, 14), Ran(Topic.Kind.IDEA, 5, 5))
    hold(line, manager, Ran(OBSTACLE, 9, 14), Ran(Topic.Kind.IDEA, 5, 5))
    hold(line, manager, Ran(Topic.Kind.UPDATE, 5, 5))
    page = client_for(manager).get(reverse("line", args=[line.pk]))
    assert_sees(page, "Not enough data yet: no kind of topic has been timed 3 times.")


def test_both_see_how_a_kind_runs_and_by_how_many_topics(
    experienced: Line, manager: Person, report: Person, client_for: ClientFor
) -> None:
    for person in (manager, report):
        page = client_for(person).get(reverse("line", args=[experienced.pk]))
        assert_sees(page, "Obstacles here usually take 30 % longer than asked, counted over 6 topics.")


def test_the_agenda_says_what_was_asked_and_what_history_made_of_it(
    experienced: Line, manager: Person, report: Person, client_for: ClientFor
) -> None:
    make_topic(experienced, manager, "The crane slot", kind=OBSTACLE, minutes=10)
    page = client_for(report).get(reverse("meeting", args=[coming_of(experienced).pk]))
    assert_sees(page, "Asked 10, has 13: obstacles here usually take 30 % longer than asked.")


def test_the_account_of_such_minutes_leads_to_where_they_are_switched_off(
    experienced: Line, manager: Person, report: Person, client_for: ClientFor
) -> None:
    asked = make_topic(experienced, manager, "The crane slot", kind=OBSTACLE, minutes=10)
    plain = make_topic(experienced, manager, "A new bell", kind=Topic.Kind.IDEA, minutes=5)
    switch = f'href="{reverse("line", args=[experienced.pk])}#minutes"'
    for topic, leads in ((asked, True), (plain, False)):
        account = reverse("placement-why", args=[placement_of(topic).pk])
        assert (switch in body_of(client_for(report).get(account))) is leads


def test_what_the_topics_need_by_experience_is_said_where_not_all_of_them_fit(
    experienced: Line, manager: Person, report: Person, client_for: ClientFor
) -> None:
    for title in ("The crane slot", "The winch"):
        make_topic(experienced, manager, title, kind=OBSTACLE, minutes=20)
        Placement.objects.filter(topic__title=title).update(minutes_least=20)
    page = client_for(report).get(reverse("meeting", args=[coming_of(experienced).pk]))
    # Two of twenty minutes would fit into 41; by 1.3 they are two of 26.
    assert_sees(
        page, "The topics ask for 40 minutes, which by experience are 52, and there are 41: one of them"
    )


def test_either_switches_it_off_and_both_see_that_it_is(
    experienced: Line, manager: Person, report: Person, client_for: ClientFor
) -> None:
    make_topic(experienced, manager, "The crane slot", kind=OBSTACLE, minutes=10)
    client = client_for(report)
    said = client.post(reverse("line-history", args=[experienced.pk]), {"uses": "0"}, follow=True)
    assert_sees(said, "Orders that are issued from now on take the minutes as they are asked.")
    for person in (manager, report):
        page = client_for(person).get(reverse("line", args=[experienced.pk]))
        assert_sees(page, "Not used now: topics get the time asked for.")
        agenda = client_for(person).get(reverse("meeting", args=[coming_of(experienced).pk]))
        assert_not_sees(agenda, "usually take")
    assert_sees(client.get(reverse("line", args=[experienced.pk])), "Use the usual time")


@pytest.mark.parametrize("sent", [{}, {"uses": ""}, {"uses": "off"}])
def test_anything_but_on_or_off_changes_nothing_and_says_so(
    sent: dict[str, str], line: Line, report: Person, client_for: ClientFor
) -> None:
    answer = client_for(report).post(reverse("line-history", args=[line.pk]), sent, follow=True)
    assert 'notice notice-refused">Say on or off: nothing was changed.' in body_of(answer)
    line.refresh_from_db()
    assert line.report_uses_history


def test_the_page_of_a_line_says_nothing_of_how_another_runs(
    experienced: Line, peer_line: Line, manager: Person, client_for: ClientFor
) -> None:
    page = client_for(manager).get(reverse("line", args=[peer_line.pk]))
    assert_not_sees(page, "usually take")
    make_topic(peer_line, manager, "The crane slot", kind=OBSTACLE, minutes=10)
    agenda = client_for(manager).get(reverse("meeting", args=[coming_of(peer_line).pk]))
    assert_not_sees(agenda, "usually take")


def test_more_history_costs_no_more_queries(
    experienced: Line, manager: Person, client_for: ClientFor
) -> None:
    client = client_for(manager)
    client.get(reverse("next"))
    counted: list[tuple[int, int]] = []
    for _time in ("three meetings", "six meetings"):
        with queries() as line_page:
            client.get(reverse("line", args=[experienced.pk]))
        with queries() as agenda:
            client.get(reverse("meeting", args=[coming_of(experienced).pk]))
        counted.append((len(line_page), len(agenda)))
        thrice(experienced, manager, Ran(OBSTACLE, 9, 14), Ran(OBSTACLE, 9, 14))
    assert counted[0] == counted[1]
