"""Commitments on the page: taken on, confirmed, kept or not, another date, handed over."""

from __future__ import annotations

import datetime as dt
from uuid import uuid4

import pytest
from django.urls import reverse

from accounts.models import Person
from oneonone import clock
from oneonone.models import Commitment, Line, Meeting, Proposal, RecordLine, Revision
from oneonone.models.followthrough import CommitmentCue
from tests.cast import ClientFor, assert_not_sees, assert_sees, body_of
from tests.scene import DURING, TakenOn, coming_of

State = Commitment.State


def data(**fields: object) -> dict[str, object]:
    return {
        "owner": "me",
        "action": "Ask the harbour for the tide table",
        "date": "2026-12-17",
        "how_known": "It hangs in the pier office.",
        "client_key": str(uuid4()),
        **fields,
    }


def act(name: str, commitment: Commitment) -> str:
    return reverse(f"commitment-{name}", args=[commitment.pk])


# --- taken on


def test_taken_on_in_a_meeting_it_is_a_line_of_its_record(
    client_for: ClientFor, under_way_meeting: Meeting, report: Person
) -> None:
    client, live = client_for(report), reverse("meeting-live", args=[under_way_meeting.pk])
    clock.hold_at(DURING)
    take_on = reverse("commitment-take-on", args=[under_way_meeting.pk])
    sent = data(placement=str(under_way_meeting.current_id), next=live)
    for _time in range(2):
        assert client.post(take_on, sent).headers["Location"] == live
    one = Commitment.objects.get()
    assert (one.owner, one.current_date, one.is_offered) == (report, dt.date(2026, 12, 17), False)
    assert RecordLine.objects.get().commitment == one
    assert_sees(client.get(live), "Ask the harbour for the tide table")


def test_typed_for_the_other_side_it_is_offered_until_they_confirm_it(
    client_for: ClientFor, under_way_meeting: Meeting, manager: Person, report: Person
) -> None:
    typing = client_for(manager)
    clock.hold_at(DURING)
    typing.post(reverse("commitment-take-on", args=[under_way_meeting.pk]), data(owner="other"))
    one = Commitment.objects.get()
    assert (one.owner, one.author, one.is_offered) == (report, manager, True)
    client_for(report).post(act("confirm", one))
    one.refresh_from_db()
    assert not one.is_offered


def test_something_can_be_taken_on_between_meetings(
    client_for: ClientFor, line: Line, meeting: Meeting, report: Person
) -> None:
    client = client_for(report)
    take_on = reverse("commitment-take-on-between", args=[line.pk])
    assert_sees(client.get(take_on), "Add a commitment")
    client.post(take_on, data())
    assert Commitment.objects.get().made_in is None


@pytest.mark.parametrize(
    ("fields", "accepted"),
    [
        ({"action": ""}, "Enter something here."),
        ({"action": "a" * 301}, "At most 300 characters"),
        ({"date": "2026-12-02"}, "Today, 2026-12-03, or later."),
        ({"date": "2036-12-02"}, "A date within the next 5 years."),
        ({"date": "soon"}, "not a date"),
        ({"owner": "nobody"}, "is not offered. Choose"),
        ({"client_key": "7"}, "Open it again"),
    ],
)
def test_what_cannot_be_taken_on_is_named_at_its_field_and_kept(
    fields: dict[str, str], accepted: str, client_for: ClientFor, under_way_meeting: Meeting, report: Person
) -> None:
    client = client_for(report)
    clock.hold_at(DURING)
    sent = data(**fields)
    answer = client.post(reverse("commitment-take-on", args=[under_way_meeting.pk]), sent)
    assert answer.status_code == 422
    page = body_of(answer)
    assert accepted in page
    assert "It hangs in the pier office." in page
    assert str(sent["action"]) in page
    assert not Commitment.objects.exists()


# --- how it goes


def test_its_owner_says_in_one_press_that_it_is_done_and_can_undo_a_slip(
    client_for: ClientFor, taken_on: TakenOn, report: Person
) -> None:
    client, mine = client_for(report), taken_on.reports
    clock.hold_at(DURING)
    client.post(act("done", mine))
    mine.refresh_from_db()
    assert mine.state == State.DONE
    client.post(act("reopen", mine))
    mine.refresh_from_db()
    assert mine.state == State.OPEN


def test_declined_and_dropped_are_said_by_the_owner(
    client_for: ClientFor, taken_on: TakenOn, report: Person
) -> None:
    client = client_for(report)
    clock.hold_at(DURING)
    client.post(act("decline", taken_on.offered))
    client.post(act("drop", taken_on.reports))
    states = Commitment.objects.filter(pk__in=[taken_on.offered.pk, taken_on.reports.pk])
    assert set(states.values_list("state", "settled_cause")) == {
        ("dropped", "declined"),
        ("dropped", "dropped"),
    }


def test_whether_the_date_will_be_made_is_one_press(
    client_for: ClientFor, taken_on: TakenOn, report: Person
) -> None:
    client = client_for(report)
    clock.hold_at(DURING)
    client.post(act("forecast", taken_on.reports), {"forecast": "may_slip"})
    taken_on.reports.refresh_from_db()
    assert taken_on.reports.forecast == "may_slip"
    client.post(act("forecast", taken_on.reports), {"forecast": "never"})
    taken_on.reports.refresh_from_db()
    assert taken_on.reports.forecast == "may_slip"


def test_another_date_keeps_the_first_one_beside_it_with_what_is_shared_about_it(
    client_for: ClientFor, taken_on: TakenOn, report: Person
) -> None:
    client, mine = client_for(report), taken_on.reports
    clock.hold_at(DURING)
    page = client.get(act("date", mine))
    assert_sees(page, "First date:")
    assert_sees(page, mine.action)
    client.post(
        act("date", mine),
        {
            "date": "2027-02-04",
            "version": mine.version,
            "reason": "The harbour answers late.",
            "basis": "Their letter.",
        },
    )
    mine.refresh_from_db()
    assert (mine.original_date, mine.current_date) == (dt.date(2027, 1, 14), dt.date(2027, 2, 4))
    assert Revision.objects.get().reason == "The harbour answers late."


@pytest.mark.parametrize(
    ("day", "accepted"),
    [
        ("2026-12-02", "Today, 2026-12-03, or later."),
        ("2027-01-14", "A different date."),
        ("2040-01-14", "A date within the next 5 years."),
        ("", "Enter a date"),
    ],
)
def test_a_date_that_cannot_be_is_refused_at_its_field_and_kept(
    day: str, accepted: str, client_for: ClientFor, taken_on: TakenOn, report: Person
) -> None:
    client, mine = client_for(report), taken_on.reports
    clock.hold_at(DURING)
    sent = {"date": day, "version": mine.version, "reason": "The harbour answers late."}
    answer = client.post(act("date", mine), sent)
    assert answer.status_code == 422
    assert accepted in body_of(answer)
    assert "The harbour answers late." in body_of(answer)
    assert not Revision.objects.exists()


def test_a_date_chosen_on_an_older_page_shows_both(
    client_for: ClientFor, taken_on: TakenOn, report: Person
) -> None:
    client, mine = client_for(report), taken_on.reports
    clock.hold_at(DURING)
    client.post(act("date", mine), {"date": "2027-02-04", "version": mine.version})
    answer = client.post(act("date", mine), {"date": "2027-03-03", "version": mine.version})
    assert answer.status_code == 412
    assert "2027-02-04" in body_of(answer)
    assert "2027-03-03" in body_of(answer)


# --- handed over


def test_handed_over_by_offering_and_accepting(
    client_for: ClientFor, taken_on: TakenOn, manager: Person, report: Person
) -> None:
    mine = taken_on.reports
    giving, taking = client_for(report), client_for(manager)
    clock.hold_at(DURING)
    asked = giving.get(act("hand-over", mine))
    assert_sees(asked, f"{manager.called} is asked at once.")
    assert not Proposal.objects.exists()
    giving.post(act("hand-over", mine))
    offer = Proposal.objects.get()
    answer = reverse("proposal-answer", args=[offer.pk])
    assert giving.post(answer, {"answer": "accept"}).status_code == 403
    taking.post(answer, {"answer": "perhaps"})
    mine.refresh_from_db()
    assert mine.state == State.OPEN
    taking.post(answer, {"answer": "accept"})
    mine.refresh_from_db()
    assert mine.state == State.HANDED_OVER
    assert Commitment.objects.get(continues=mine).owner == manager


def test_a_hand_over_that_is_declined_stays_where_it_was(
    client_for: ClientFor, taken_on: TakenOn, manager: Person, report: Person
) -> None:
    giving, taking = client_for(report), client_for(manager)
    clock.hold_at(DURING)
    giving.post(act("hand-over", taken_on.reports))
    offer = Proposal.objects.get()
    taking.post(reverse("proposal-answer", args=[offer.pk]), {"answer": "decline"})
    taken_on.reports.refresh_from_db()
    assert (taken_on.reports.state, taken_on.reports.owner) == (State.OPEN, report)


def test_a_hand_over_is_taken_back_by_whoever_offered_it(
    client_for: ClientFor, taken_on: TakenOn, manager: Person, report: Person
) -> None:
    giving, taking = client_for(report), client_for(manager)
    clock.hold_at(DURING)
    giving.post(act("hand-over", taken_on.reports))
    offer = Proposal.objects.get()
    page = reverse("meeting", args=[coming_of(taken_on.reports.line).pk])
    assert_sees(giving.get(page), "to take over “")
    withdraw = reverse("proposal-withdraw", args=[offer.pk])
    assert withdraw in body_of(giving.get(page))
    assert withdraw not in body_of(taking.get(page))
    told = giving.post(withdraw, {"next": page}, follow=True)
    assert_sees(told, "Taken back. Nothing changes.")
    assert_not_sees(told, "to take over “")
    answer = reverse("proposal-answer", args=[offer.pk])
    assert_sees(
        taking.post(answer, {"answer": "accept", "next": page}, follow=True),
        "That cannot be done any more: it has changed in the meantime.",
    )
    assert Commitment.objects.filter(continues=taken_on.reports).count() == 0


# --- when to begin


def test_a_day_to_begin_is_named_as_it_is_taken_on_and_stands_on_ones_own_page_only(
    client_for: ClientFor, line: Line, manager: Person, report: Person
) -> None:
    client = client_for(report)
    take_on = reverse("commitment-take-on-between", args=[line.pk])
    client.post(take_on, data(cue_on="2026-12-10"))
    assert CommitmentCue.objects.get().on == dt.date(2026, 12, 10)
    assert_sees(client.get(reverse("next")), "reminder on")
    assert_not_sees(client_for(manager).get(reverse("line", args=[line.pk])), "mean to begin")


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"cue_on": "2026-11-01"}, "Today or later."),
        ({"cue_on": "soon"}, "Remind me on"),
        ({"cue_on": "2026-12-10", "owner": "other"}, "Only for your own commitments"),
    ],
)
def test_a_day_to_begin_that_cannot_be_is_refused_with_everything_typed(
    client_for: ClientFor, line: Line, report: Person, fields: dict[str, str], said: str
) -> None:
    sent = data(**fields)
    answer = client_for(report).post(reverse("commitment-take-on-between", args=[line.pk]), sent)
    assert answer.status_code == 422
    assert said in body_of(answer)
    assert str(sent["action"]) in body_of(answer)
    assert not Commitment.objects.exists()


def test_the_day_to_begin_is_set_later_changed_and_taken_away(
    client_for: ClientFor, taken_on: TakenOn, report: Person
) -> None:
    client, page = client_for(report), act("cue", taken_on.reports)
    clock.hold_at(DURING)
    for sent, kept in (("2026-12-20", dt.date(2026, 12, 20)), ("2027-01-04", dt.date(2027, 1, 4))):
        client.post(page, {"cue_on": sent})
        assert CommitmentCue.objects.get().on == kept
        assert f'value="{sent}"' in body_of(client.get(page))
    client.post(page, {"cue_on": ""})
    assert not CommitmentCue.objects.exists()


def test_a_day_to_begin_in_the_past_is_refused_at_its_field(
    client_for: ClientFor, taken_on: TakenOn, report: Person
) -> None:
    client = client_for(report)
    clock.hold_at(DURING)
    answer = client.post(act("cue", taken_on.reports), {"cue_on": "2026-12-02"})
    assert answer.status_code == 422
    assert "Today or later." in body_of(answer)
    assert 'value="2026-12-02"' in body_of(answer)
