"""Days away, once for all lines: what falls on them, and moving each of it by one press."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from accounts.models import DayAway, Person
from oneonone.models import Line, Meeting, Move, Proposal, Side
from oneonone.selectors.cadence import absence
from oneonone.services.lines import lines
from oneonone.services.meetings import meetings, time_proposals
from oneonone.services.people import profile
from oneonone.services.private import busy_times
from tests.cast import ClientFor, assert_not_sees, assert_sees, make_person, queries
from tests.scene import MADE, QUARTERLY, coming_of, make_line

DAY = dt.date(2026, 12, 3)


@pytest.fixture
def away(meeting: Meeting, peer_line: Line, manager: Person, now: dt.datetime) -> DayAway:
    """Ines is away from 2 to 4 December, after both of her meetings of the 3rd were invited to."""
    for one in (meeting, coming_of(peer_line)):
        meetings.invite(meeting=one, actor=manager, words="", now=now)
    return profile.add_days_away(
        actor=manager, first=dt.date(2026, 12, 2), last=dt.date(2026, 12, 4), now=now
    )


def test_what_falls_on_the_days_is_shown_for_every_line(
    away: DayAway, manager: Person, client_for: ClientFor
) -> None:
    page = client_for(manager).get(reverse("absence", args=[away.pk]))
    assert_sees(page, "Tomas Lindqvist")
    assert_sees(page, "Maja Ferreira")
    assert_sees(page, "Monday 7 December")
    assert_sees(page, "Tuesday 1 December")


def test_what_is_offered_lies_outside_the_days_away(away: DayAway, manager: Person, now: dt.datetime) -> None:
    falling = absence.with_offers(manager, away, now=now)
    assert len(falling) == 2
    for one in falling:
        assert one.offers
        assert all(not away.first <= offer.day <= away.last for offer in one.offers)


def test_one_press_proposes_another_time_and_the_other_side_says_yes(
    away: DayAway, meeting: Meeting, manager: Person, report: Person, client_for: ClientFor
) -> None:
    client, other = client_for(manager), client_for(report)
    data = {"meeting": str(meeting.pk), "day": "2026-12-07", "time": "10:00"}
    page = client.post(reverse("absence-propose", args=[away.pk]), data, follow=True)
    assert_sees(page, "Proposed: Monday 7 December at 10:00. The other person can accept or decline.")
    assert_sees(page, "You proposed Monday 7 December, 10:00")
    meeting.refresh_from_db()
    assert meeting.starts_at.date() == DAY
    words = (
        "Ines Okafor proposes another time: Monday 7 December, 10:00 instead of Thursday 3 December, 10:00."
    )
    for where in (reverse("next"), reverse("meeting", args=[meeting.pk])):
        assert_sees(other.get(where), words)
        assert_not_sees(other.get(where), "days away")
    answer = reverse("proposal-answer", args=[Proposal.objects.get().pk])
    other.post(answer, {"answer": "accept"})
    meeting.refresh_from_db()
    assert meeting.starts_at == dt.datetime(2026, 12, 7, 10, 0, tzinfo=dt.UTC)
    assert Move.objects.get().by == report
    page = client.get(reverse("absence", args=[away.pk]))
    assert_not_sees(page, "Tomas Lindqvist")
    assert_sees(page, "Maja Ferreira")


def test_a_time_that_is_proposed_for_one_is_not_offered_for_the_other(
    away: DayAway, meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    time_proposals.propose(
        meeting=meeting, day=dt.date(2026, 12, 7), time=dt.time(10), actor=manager, now=now
    )
    for one in absence.with_offers(manager, away, now=now):
        begins = [offer.time for offer in one.offers if offer.day == dt.date(2026, 12, 7)]
        assert begins == [dt.time(9)]


def test_with_somebody_who_has_not_joined_it_moves_at_once(
    manager: Person, now: dt.datetime, client_for: ClientFor
) -> None:
    asked = lines.Invited(name="Jon Sedge", email="jon.sedge@example.org", side=Side.REPORT)
    made = lines.create(
        actor=manager, now=MADE, today=MADE.date(), terms=QUARTERLY, manager=manager, invited=asked
    )
    meeting = coming_of(made.line)
    meetings.invite(meeting=meeting, actor=manager, words="", now=now)
    away = profile.add_days_away(actor=manager, first=DAY, last=DAY, now=now)
    data = {"meeting": str(meeting.pk), "day": "2026-12-07", "time": "10:00"}
    page = client_for(manager).post(reverse("absence-propose", args=[away.pk]), data, follow=True)
    assert_sees(page, "Moved to Monday 7 December at 10:00.")
    assert Proposal.objects.count() == 0


def test_noting_days_leads_to_what_falls_on_them(
    meeting: Meeting, manager: Person, now: dt.datetime, client_for: ClientFor
) -> None:
    meetings.invite(meeting=meeting, actor=manager, words="", now=now)
    sent = {"first": "2026-12-03", "last": "2026-12-03"}
    answer = client_for(manager).post(reverse("days-away-add"), sent)
    away = DayAway.objects.get()
    assert answer.headers["Location"] == reverse("absence", args=[away.pk])


def test_a_date_that_only_the_interval_made_has_moved_by_itself(
    meeting: Meeting, manager: Person, client_for: ClientFor
) -> None:
    sent = {"first": "2026-12-03", "last": "2026-12-03"}
    client = client_for(manager)
    assert client.post(reverse("days-away-add"), sent).headers["Location"] == reverse("settings")
    page = client.get(reverse("absence", args=[DayAway.objects.get().pk]))
    assert_sees(page, "Nothing falls on these days")


@pytest.mark.parametrize("who", ["report", "peer", "lead", "outsider", "administrator", "superuser"])
@pytest.mark.parametrize("name", ["absence", "absence-propose"])
def test_nobody_else_sees_ones_days_away(
    name: str, who: str, away: DayAway, request: pytest.FixtureRequest, client_for: ClientFor
) -> None:
    client = client_for(request.getfixturevalue(who))
    where = reverse(name, args=[away.pk])
    answer = client.get(where) if name == "absence" else client.post(where, {})
    assert answer.status_code == 404


def test_another_line_cannot_be_reached_through_ones_own_absence(
    away: DayAway, other_line: Line, manager: Person, client_for: ClientFor
) -> None:
    data = {"meeting": str(coming_of(other_line).pk), "day": "2026-12-07", "time": "10:00"}
    assert client_for(manager).post(reverse("absence-propose", args=[away.pk]), data).status_code == 404
    data["meeting"] = "not an id"
    assert client_for(manager).post(reverse("absence-propose", args=[away.pk]), data).status_code == 404


def test_a_day_past_the_next_one_on_one_is_refused_in_words(
    away: DayAway, meeting: Meeting, manager: Person, client_for: ClientFor
) -> None:
    data = {"meeting": str(meeting.pk), "day": "2027-06-07", "time": "10:00"}
    page = client_for(manager).post(reverse("absence-propose", args=[away.pk]), data, follow=True)
    assert_sees(page, "That is past the next one-on-one.")
    meeting.refresh_from_db()
    assert meeting.starts_at.date() == DAY


def test_twice_the_meetings_take_as_many_queries(manager: Person, now: dt.datetime) -> None:
    counts = []
    for names in (("Ada Brook",), ("Bo Falk", "Cleo Holt", "Dov Nair")):
        for name in names:
            line = make_line(manager, make_person(name))
            meetings.invite(meeting=coming_of(line), actor=manager, words="", now=now)
        away = profile.add_days_away(actor=manager, first=DAY, last=DAY, now=now)
        with queries() as made:
            falling = absence.with_offers(manager, away, now=now)
        counts.append((len(falling), len(made)))
        profile.remove_days_away(actor=manager, days_away=away, now=now)
    assert [number for number, _made in counts] == [1, 4]
    assert counts[0][1] == counts[1][1]


def test_where_the_days_near_it_are_full_later_ones_are_offered(
    away: DayAway, manager: Person, now: dt.datetime
) -> None:
    full = (now, dt.datetime(2026, 12, 21, 0, 0, tzinfo=dt.UTC))
    busy_times.replace(blocks=[full], actor=manager, now=now, today=now.date())
    for one in absence.with_offers(manager, away, now=now):
        assert min(offer.day for offer in one.offers) == dt.date(2026, 12, 21)
