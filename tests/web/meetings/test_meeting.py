"""The meeting page by page: started, gone through, closed; moved, called off, held without the page."""

from __future__ import annotations

import datetime as dt

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from accounts.models import Person
from oneonone import clock
from oneonone.models import HeldClaim, Line, Meeting, Move, Placement
from oneonone.services.agenda import topics
from oneonone.services.meetings import meetings
from oneonone.services.private import busy_times
from oneonone.services.record import record
from tests.cast import ClientFor, assert_not_sees, assert_sees, body_of, queries
from tests.scene import CLOSED, DURING, STARTS, Brought, TakenOn, coming_of, make_topic, placement_of


def live(meeting: Meeting) -> str:
    return reverse("meeting-live", args=[meeting.pk])


def go_on(client: Client, meeting: Meeting, **fields: object) -> HttpResponse:
    meeting.refresh_from_db()
    data = {"version": meeting.version, **fields}
    answer: HttpResponse = client.post(reverse("meeting-go-on", args=[meeting.pk]), data, follow=True)  # type: ignore[assignment]
    return answer


# --- started


def test_either_side_starts_and_that_issues_an_order_that_was_not(
    client_for: ClientFor, meeting: Meeting, brought: Brought, report: Person
) -> None:
    client = client_for(report)
    clock.hold_at(STARTS)
    answer = client.post(reverse("meeting-start", args=[meeting.pk]), follow=True)
    assert_sees(answer, "How it went since last time")
    meeting.refresh_from_db()
    assert meeting.state == Meeting.State.UNDER_WAY
    assert meeting.orders.get().cause == "started"


def test_starting_twice_starts_once(
    client_for: ClientFor, issued_meeting: Meeting, manager: Person, report: Person
) -> None:
    for person in (manager, report):
        client = client_for(person)
        clock.hold_at(STARTS)
        answer = client.post(reverse("meeting-start", args=[issued_meeting.pk]), follow=True)
        assert_sees(answer, "How it went since last time")
        assert_not_sees(answer, "changed in the meantime")
    issued_meeting.refresh_from_db()
    assert issued_meeting.state == Meeting.State.UNDER_WAY
    assert issued_meeting.orders.count() == 1


def test_the_live_page_of_a_meeting_that_has_not_begun_is_its_agenda(
    client_for: ClientFor, meeting: Meeting, report: Person
) -> None:
    answer = client_for(report).get(live(meeting))
    assert answer.headers["Location"] == reverse("meeting", args=[meeting.pk])


def start_page(meeting: Meeting) -> str:
    return reverse("meeting-start", args=[meeting.pk])


def test_a_start_long_before_its_time_is_asked_about_first(
    client_for: ClientFor, meeting: Meeting, report: Person
) -> None:
    client = client_for(report)
    clock.hold_at(STARTS - dt.timedelta(minutes=31))
    agenda_page = client.get(reverse("meeting", args=[meeting.pk]))
    assert f'href="{start_page(meeting)}"' in body_of(agenda_page)
    for asked in (client.get(start_page(meeting)), client.post(start_page(meeting))):
        assert_sees(asked, "This is planned for Thursday 3 December, 10:00. Start it now?")
    meeting.refresh_from_db()
    assert meeting.state == Meeting.State.PLANNED
    client.post(start_page(meeting), {"early": "yes"})
    meeting.refresh_from_db()
    assert meeting.state == Meeting.State.UNDER_WAY


def test_from_half_an_hour_before_it_starts_by_one_press(
    client_for: ClientFor, meeting: Meeting, report: Person
) -> None:
    client = client_for(report)
    clock.hold_at(STARTS - dt.timedelta(minutes=30))
    agenda_page = body_of(client.get(reverse("meeting", args=[meeting.pk])))
    assert f'action="{start_page(meeting)}"' in agenda_page
    client.post(start_page(meeting))
    meeting.refresh_from_db()
    assert meeting.state == Meeting.State.UNDER_WAY


def test_a_start_is_taken_back_from_the_page_of_the_meeting_until_a_line_is_written(
    client_for: ClientFor, meeting: Meeting, brought: Brought, report: Person, manager: Person
) -> None:
    client, act = client_for(report), reverse("meeting-not-started", args=[meeting.pk])
    clock.hold_at(STARTS)
    assert act in body_of(client.post(start_page(meeting), follow=True))
    assert_sees(client.post(act, follow=True), "The start is undone.")
    meeting.refresh_from_db()
    assert meeting.state == Meeting.State.PLANNED
    client.post(start_page(meeting))
    meeting.refresh_from_db()
    record.write(meeting=meeting, kind="said", words="The tide is late.", actor=manager, now=STARTS)
    assert act not in body_of(client.get(live(meeting)))
    assert_sees(client.post(act, follow=True), "Close it instead.")
    meeting.refresh_from_db()
    assert meeting.state == Meeting.State.UNDER_WAY


def test_a_meeting_that_began_early_shows_its_real_clock(
    client_for: ClientFor, meeting: Meeting, brought: Brought, report: Person
) -> None:
    client = client_for(report)
    clock.hold_at(STARTS - dt.timedelta(days=6, minutes=20))
    shown = client.post(start_page(meeting), {"early": "yes"}, follow=True)
    assert_sees(shown, "Under way: Friday 27 November, 09:40 to 10:30")
    assert ">09:44</time></strong>" in body_of(shown)


# --- read back and kept


def test_what_was_not_reached_is_read_back_must_first_with_what_is_kept_though_it_was_discussed(
    client_for: ClientFor, under_way_meeting: Meeting, brought: Brought, manager: Person, report: Person
) -> None:
    topics.set_must(placement=placement_of(brought.licence), must=True, actor=report, now=DURING)
    client = client_for(manager)
    clock.hold_at(DURING)
    shown = go_on(client, under_way_meeting, to="", continues="on")
    kept = body_of(shown).partition('id="kept"')[2]
    places = [kept.index(topic.title) for topic in (brought.licence, brought.sheet, brought.crane)]
    assert places == sorted(places)
    assert "must be discussed next time (marked by Tomas)" in kept
    assert "discussed, and kept for next time" in kept
    closed = client.post(reverse("meeting-close", args=[under_way_meeting.pk]), follow=True)
    left = body_of(closed).rpartition("Kept for next time")[2]
    assert brought.crane.title in left
    assert "must be discussed next time (marked by Tomas)" in left
    assert_sees(client.get(reverse("meeting", args=[coming_of(brought.crane.line).pk])), "Must be discussed")


def test_the_record_is_headed_with_the_time_it_was_really_held(
    client_for: ClientFor, meeting: Meeting, manager: Person, report: Person
) -> None:
    began = STARTS + dt.timedelta(minutes=7)
    meetings.start(meeting=meeting, actor=manager, now=began)
    meetings.close(meeting=meeting, actor=manager, now=began + dt.timedelta(minutes=31))
    client = client_for(report)
    clock.hold_at(CLOSED)
    assert_sees(client.get(reverse("record", args=[meeting.pk])), "Thursday 3 December, 10:07 to 10:38</h1>")


# --- gone through


def test_both_see_one_topic_large_and_until_when_the_order_gives_it(
    client_for: ClientFor, under_way_meeting: Meeting, brought: Brought, manager: Person, report: Person
) -> None:
    key = str(placement_of(brought.crane).pk)
    slot = next(s for s in under_way_meeting.orders.get().plan["slots"] if s["key"] == key)
    until = (STARTS + dt.timedelta(minutes=slot["end"])).strftime("%H:%M")
    for person in (manager, report):
        page = body_of(client_for(person).get(live(under_way_meeting)))
        assert f"<h1>{brought.crane.title}</h1>" in page
        assert f">{until}</time></strong>" in page


def test_going_on_leaves_the_topic_discussed_and_takes_up_the_next(
    client_for: ClientFor, under_way_meeting: Meeting, brought: Brought, report: Person
) -> None:
    crane, sheet = placement_of(brought.crane), placement_of(brought.sheet)
    answer = go_on(client_for(report), under_way_meeting, to=sheet.pk)
    assert f"<h1>{brought.sheet.title}</h1>" in body_of(answer)
    crane.refresh_from_db()
    assert crane.outcome == Placement.Outcome.DISCUSSED


def test_the_rest_of_a_topic_can_be_kept_for_next_time(
    client_for: ClientFor, under_way_meeting: Meeting, brought: Brought, manager: Person
) -> None:
    crane = placement_of(brought.crane)
    go_on(client_for(manager), under_way_meeting, to=placement_of(brought.sheet).pk, continues="on")
    crane.refresh_from_db()
    brought.crane.refresh_from_db()
    assert crane.outcome == Placement.Outcome.CONTINUES
    assert brought.crane.state == "open"


def test_both_may_press_the_same_step_and_close_it_without_a_word_of_refusal(
    client_for: ClientFor, under_way_meeting: Meeting, brought: Brought, manager: Person, report: Person
) -> None:
    clients = [client_for(person) for person in (manager, report)]
    clock.hold_at(DURING)
    step = {"version": under_way_meeting.version, "to": placement_of(brought.sheet).pk}
    for client in clients:
        answer = client.post(reverse("meeting-go-on", args=[under_way_meeting.pk]), step, follow=True)
        assert f"<h1>{brought.sheet.title}</h1>" in body_of(answer)
        assert list(answer.context["messages"]) == []
    for client in clients:
        answer = client.post(reverse("meeting-close", args=[under_way_meeting.pk]), follow=True)
        assert [message.level_tag for message in answer.context["messages"]] == ["success"]


def test_a_step_pressed_on_an_older_page_is_told_and_moves_nothing(
    client_for: ClientFor, under_way_meeting: Meeting, brought: Brought, report: Person
) -> None:
    client = client_for(report)
    read = under_way_meeting.version
    go_on(client, under_way_meeting, to=placement_of(brought.sheet).pk)
    answer = client.post(
        reverse("meeting-go-on", args=[under_way_meeting.pk]),
        {"version": read, "to": placement_of(brought.deckhands).pk},
        follow=True,
    )
    assert_sees(answer, "The other side has just gone on. This page shows where you are now.")
    assert f"<h1>{brought.sheet.title}</h1>" in body_of(answer)


def test_a_topic_of_another_meeting_is_nowhere_to_go_on_to(
    client_for: ClientFor, under_way_meeting: Meeting, brought: Brought, peer_line: Line, manager: Person
) -> None:
    elsewhere = placement_of(make_topic(peer_line, manager, "Roster of the ticket desk"))
    answer = go_on(client_for(manager), under_way_meeting, to=elsewhere.pk)
    assert f"<h1>{brought.crane.title}</h1>" in body_of(answer)
    elsewhere.refresh_from_db()
    assert elsewhere.began_at is None


def test_reading_back_says_what_each_takes_on_and_lets_its_owner_confirm(
    client_for: ClientFor, under_way_meeting: Meeting, taken_on: TakenOn, manager: Person, report: Person
) -> None:
    confirm = reverse("commitment-confirm", args=[taken_on.offered.pk])
    own = go_on(client_for(report), under_way_meeting)
    assert_sees(own, "Read back what each of you takes on")
    for one in (taken_on.managers, taken_on.reports, taken_on.offered):
        assert_sees(own, one.action)
    assert confirm in body_of(own)
    theirs = client_for(manager).get(live(under_way_meeting))
    assert confirm not in body_of(theirs)
    assert_sees(theirs, "Tomas Lindqvist has not accepted it yet.")


def test_after_reading_back_a_topic_can_still_be_taken_up(
    client_for: ClientFor, under_way_meeting: Meeting, brought: Brought, report: Person
) -> None:
    client = client_for(report)
    back = body_of(go_on(client, under_way_meeting))
    assert str(placement_of(brought.sheet).pk) in back
    answer = go_on(client, under_way_meeting, to=placement_of(brought.sheet).pk)
    assert f"<h1>{brought.sheet.title}</h1>" in body_of(answer)


def test_closing_leads_to_the_record_and_keeps_what_was_not_reached(
    client_for: ClientFor, under_way_meeting: Meeting, brought: Brought, manager: Person
) -> None:
    client = client_for(manager)
    clock.hold_at(CLOSED)
    answer = client.post(reverse("meeting-close", args=[under_way_meeting.pk]), follow=True)
    assert_sees(answer, "Held on")
    assert brought.sheet.title in body_of(answer).split("Kept for next time")[1]
    under_way_meeting.refresh_from_db()
    assert under_way_meeting.held_on == dt.date(2026, 12, 3)


def test_ten_lines_take_as_many_queries_as_five(
    client_for: ClientFor, under_way_meeting: Meeting, brought: Brought, report: Person
) -> None:
    client, crane = client_for(report), placement_of(brought.crane)

    def say(times: int) -> None:
        for number in range(times):
            record.write(
                meeting=under_way_meeting,
                placement=crane,
                kind="said",
                words=f"Slot {number} is taken.",
                actor=report,
                now=DURING,
            )

    say(5)
    client.get(live(under_way_meeting))
    with queries() as five:
        client.get(live(under_way_meeting))
    say(5)
    with queries() as ten:
        client.get(live(under_way_meeting))
    assert len(ten) == len(five)


# --- moved


def test_moving_offers_the_nearest_days_on_which_both_work(
    client_for: ClientFor, meeting: Meeting, report: Person
) -> None:
    page = body_of(client_for(report).get(reverse("meeting-move", args=[meeting.pk])))
    # The days around Thursday 3 December 2026 that are no Saturday or Sunday.
    for day in ("2026-11-30", "2026-12-01", "2026-12-02", "2026-12-04", "2026-12-07"):
        assert f'name="day" value="{day}"' in page
    assert 'name="day" value="2026-12-05"' not in page


def test_a_day_on_which_the_reader_meets_somebody_else_then_is_not_offered(
    client_for: ClientFor,
    meeting: Meeting,
    peer_line: Line,
    manager: Person,
    report: Person,
    now: dt.datetime,
) -> None:
    other = peer_line.meetings.get()
    meetings.move(
        meeting=other, starts_at=dt.datetime(2026, 12, 2, 10, 30, tzinfo=dt.UTC), actor=manager, now=now
    )
    move = reverse("meeting-move", args=[meeting.pk])
    second = 'name="day" value="2026-12-02">\n      <input type="hidden" name="time" value="{}">'
    assert second.format("09:30") in body_of(client_for(manager).get(move))
    assert second.format("10:00") in body_of(client_for(report).get(move))


def test_the_readers_own_calendar_is_kept_clear_and_nobody_elses(
    client_for: ClientFor, meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    """Ines has the morning of 4 December taken, and all of the 2nd."""
    taken = [
        (dt.datetime(2026, 12, 2, 0, tzinfo=dt.UTC), dt.datetime(2026, 12, 3, 0, tzinfo=dt.UTC)),
        (dt.datetime(2026, 12, 4, 8, tzinfo=dt.UTC), dt.datetime(2026, 12, 4, 12, tzinfo=dt.UTC)),
    ]
    busy_times.replace(blocks=taken, actor=manager, now=now, today=now.date())
    move = reverse("meeting-move", args=[meeting.pk])
    mine, theirs = body_of(client_for(manager).get(move)), body_of(client_for(report).get(move))
    fourth = 'value="2026-12-04">\n      <input type="hidden" name="time" value="{}">'
    assert 'value="2026-12-02"' not in mine
    assert 'value="2026-12-02"' in theirs
    assert fourth.format("12:00") in mine
    assert fourth.format("10:00") in theirs


def test_calling_off_comes_with_the_times_it_could_move_to(
    client_for: ClientFor, meeting: Meeting, report: Person
) -> None:
    """One press moves it; calling it off stays a step further."""
    page = body_of(client_for(report).get(reverse("meeting-call-off", args=[meeting.pk])))
    move = reverse("meeting-move", args=[meeting.pk])
    assert page.count(f'method="post" action="{move}"') == 6
    assert page.index(f'action="{move}"') < page.index("Call this one-on-one off?")


def test_either_side_moves_it_and_it_stays_the_same_meeting(
    client_for: ClientFor, meeting: Meeting, report: Person
) -> None:
    answer = client_for(report).post(
        reverse("meeting-move", args=[meeting.pk]), {"day": "2026-12-04", "time": "14:30"}, follow=True
    )
    assert_sees(answer, "Friday 4 December, 14:30 to 15:20")
    assert Move.objects.get().meeting == meeting


@pytest.mark.parametrize(
    ("day", "time", "accepted"),
    [
        ("2026-11-20", "10:00", "A time in the future."),
        ("2026-12-03", "10:00", "A different time."),
        ("2027-03-04", "10:00", "A day before 2027-03-04."),
        ("the 4th", "10:00", "not a date"),
        ("2026-12-04", "half past", "not a time"),
    ],
)
def test_a_move_that_cannot_be_is_refused_at_the_day_and_kept(
    day: str, time: str, accepted: str, client_for: ClientFor, meeting: Meeting, report: Person
) -> None:
    answer = client_for(report).post(reverse("meeting-move", args=[meeting.pk]), {"day": day, "time": time})
    assert answer.status_code == 422
    page = body_of(answer)
    assert accepted in page
    assert f'value="{day}"' in page
    assert f'value="{time}"' in page
    assert not Move.objects.exists()


def test_a_meeting_under_way_is_not_moved_or_called_off(
    client_for: ClientFor, under_way_meeting: Meeting, manager: Person
) -> None:
    client = client_for(manager)
    assert_sees(
        client.get(reverse("meeting-move", args=[under_way_meeting.pk])), "It cannot be moved any more"
    )
    client.post(reverse("meeting-call-off", args=[under_way_meeting.pk]))
    under_way_meeting.refresh_from_db()
    assert under_way_meeting.state == Meeting.State.UNDER_WAY


# --- called off


def test_calling_off_shows_first_the_silence_it_leaves_and_where_topics_go(
    client_for: ClientFor, meeting: Meeting, brought: Brought, report: Person
) -> None:
    page = client_for(report).get(reverse("meeting-call-off", args=[meeting.pk]))
    # From 7 September 2026, when the line began, to 4 March 2027: 178 days.
    assert (dt.date(2027, 3, 4) - dt.date(2026, 9, 7)).days == 178
    assert_sees(page, "178 days without a one-on-one")
    assert_sees(page, "Its 5 topics and all open commitments go to the next one")
    meeting.refresh_from_db()
    assert meeting.state == Meeting.State.PLANNED


def test_called_off_its_topics_are_on_the_next_one(
    client_for: ClientFor, meeting: Meeting, brought: Brought, report: Person
) -> None:
    answer = client_for(report).post(reverse("meeting-call-off", args=[meeting.pk]), follow=True)
    assert_sees(answer, "Thursday 4 March, 10:00 to 10:50")
    assert_sees(answer, brought.crane.title)


# --- held without the page


@pytest.fixture
def past_meeting(issued_meeting: Meeting, held_clock: dt.datetime) -> Meeting:
    """The meeting of 3 December, never started; it is 11:30 on the day after."""
    clock.hold_at(dt.datetime(2026, 12, 4, 11, 30, tzinfo=dt.UTC))
    return issued_meeting


def test_we_met_closes_it_with_what_was_discussed(
    client_for: ClientFor, past_meeting: Meeting, brought: Brought, report: Person
) -> None:
    client, held = client_for(report), reverse("meeting-held", args=[past_meeting.pk])
    clock.hold_at(dt.datetime(2026, 12, 4, 11, 30, tzinfo=dt.UTC))
    assert 'value="2026-12-03"' in body_of(client.get(held))
    client.post(
        held, {"held": "yes", "day": "2026-12-03", "discussed": [str(placement_of(brought.crane).pk)]}
    )
    past_meeting.refresh_from_db()
    assert (past_meeting.state, past_meeting.held_on) == (Meeting.State.CLOSED, dt.date(2026, 12, 3))
    brought.crane.refresh_from_db()
    brought.sheet.refresh_from_db()
    assert (brought.crane.state, brought.sheet.state) == ("finished", "open")


def test_we_did_not_meet_makes_it_not_held_and_loses_nothing(
    client_for: ClientFor, past_meeting: Meeting, brought: Brought, manager: Person
) -> None:
    client = client_for(manager)
    clock.hold_at(dt.datetime(2026, 12, 4, 11, 30, tzinfo=dt.UTC))
    answer = client.post(reverse("meeting-held", args=[past_meeting.pk]), {"held": "no"}, follow=True)
    assert_sees(answer, "This one-on-one was not held.")
    assert placement_of(brought.crane).meeting != past_meeting


@pytest.mark.parametrize(
    ("said", "accepted"),
    [
        ({"held": "yes", "day": ""}, "Enter the day you met on."),
        ({"held": "yes", "day": "2026-12-05"}, "Today or an earlier day."),
        ({"held": "yes", "day": "2025-12-03"}, "when the line began"),
        ({"held": "perhaps"}, "is not offered. Choose"),
        ({}, "Choose one of those offered."),
    ],
)
def test_an_answer_that_cannot_be_is_refused_at_its_field(
    said: dict[str, str], accepted: str, client_for: ClientFor, past_meeting: Meeting, report: Person
) -> None:
    client = client_for(report)
    clock.hold_at(dt.datetime(2026, 12, 4, 11, 30, tzinfo=dt.UTC))
    answer = client.post(reverse("meeting-held", args=[past_meeting.pk]), said)
    assert answer.status_code == 422
    assert accepted in body_of(answer)
    past_meeting.refresh_from_db()
    assert past_meeting.state == Meeting.State.ISSUED


def test_a_meeting_that_lies_ahead_is_called_off_and_not_said_to_be_not_held(
    client_for: ClientFor, meeting: Meeting, report: Person
) -> None:
    answer = client_for(report).post(reverse("meeting-held", args=[meeting.pk]), {"held": "no"})
    assert answer.status_code == 422
    assert "Call it off, or close it, instead." in body_of(answer)


def test_each_sides_word_on_whether_they_met_stands_beside_the_other(
    client_for: ClientFor, past_meeting: Meeting, manager: Person, report: Person
) -> None:
    held, page = (reverse(name, args=[past_meeting.pk]) for name in ("meeting-held", "record"))
    later = dt.datetime(2026, 12, 4, 11, 30, tzinfo=dt.UTC)
    first, second = client_for(report), client_for(manager)
    clock.hold_at(later)
    first.post(held, {"held": "yes", "day": "2026-12-03"})
    assert_sees(second.get(page), "Tomas says that you met on Thursday 3 December.")
    second.post(held, {"held": "no"})
    assert_sees(second.get(page), "You say that you did not meet.")
    assert_sees(first.get(page), "Ines says that you did not meet.")
    said = dict(HeldClaim.objects.filter(meeting=past_meeting).values_list("side", "held"))
    assert said == {"report": True, "manager": False}
