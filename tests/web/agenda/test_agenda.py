"""The agenda page: the same order from both sides, and each one's own margin beside it."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from accounts.models import Person
from oneonone import clock
from oneonone.models import Line, Meeting, Order
from oneonone.services.agenda import importance, placement_by_hand, topics
from oneonone.services.commitments import carrying, commitments
from oneonone.services.meetings import held_claims, meetings
from oneonone.services.private import margin
from oneonone.web.agenda import strip
from tests.cast import ClientFor, assert_not_sees, assert_sees, body_of, queries
from tests.scene import AFTER, Brought, TakenOn, coming_of, invite_report, make_topic, placement_of
from tests.services.agenda.test_placement_by_hand import stiff
from tests.web.gallery.markup import Node, read
from tests.web.taking import take


def page_of(meeting: Meeting) -> str:
    return reverse("meeting", args=[meeting.pk])


# --- the order


def test_both_sides_see_what_either_brings_and_how_long_it_has(
    client_for: ClientFor, issued_meeting: Meeting, brought: Brought, manager: Person, report: Person
) -> None:
    for person, own in ((manager, "you bring 17 minutes"), (report, "you bring 24 minutes")):
        shown = client_for(person).get(page_of(issued_meeting))
        assert_sees(shown, "Thursday 3 December, 10:00 to 10:50")
        assert_not_sees(shown, "The order as it would be now")
        assert_sees(shown, own)
        for topic in (brought.crane, brought.sundays, brought.sheet, brought.deckhands, brought.licence):
            assert_sees(shown, topic.title)


def test_what_opens_at_a_topic_names_the_topic_to_whoever_hears_the_page(
    client_for: ClientFor, issued_meeting: Meeting, brought: Brought, report: Person
) -> None:
    page = read(body_of(client_for(report).get(page_of(issued_meeting)))).one("div", id="agenda")
    opens = [link.words() for link in page.all("a") if "data-opens" in link.attributes]
    for name in (brought.crane.title, f"Write a note : {brought.crane.title}"):
        assert name in opens
    assert len(opens) == len(set(opens))


def test_what_can_be_done_with_a_topic_is_behind_one_control_and_fetched_when_it_is_opened(
    client_for: ClientFor, issued_meeting: Meeting, brought: Brought, report: Person
) -> None:
    client = client_for(report)
    page = read(body_of(client.get(page_of(issued_meeting))))
    boxes = [box for box in page.all("article") if box.all("a")]
    assert len(boxes) == 5
    for box in boxes:
        controls = [node for tag in ("a", "button", "input", "select", "summary") for node in box.all(tag)]
        assert len(controls) == 1
        assert box.all("form") == []
        part = client.get(controls[0].attributes["href"], headers={"HX-Request": "true"})
        assert "<html" not in body_of(part)
        assert "HX-Request" in part["Vary"]
        for words in ("Why here?", "Move to", "Mark as must-discuss", "Park", "Say so"):
            assert_sees(part, words)


def test_a_topics_own_page_does_without_script_all_that_is_opened_in_the_agenda(
    client_for: ClientFor, issued_meeting: Meeting, brought: Brought, report: Person
) -> None:
    client, own = client_for(report), reverse("placement", args=[placement_of(brought.crane).pk])
    page, part = client.get(own), client.get(own, headers={"HX-Request": "true"})
    assert_sees(page, "<html")
    for node in read(body_of(part)).all("form"):
        assert node.attributes["action"] in body_of(page)
    for act in ("margin-write", "margin-unclear"):
        assert reverse(act, kwargs={"topic_id": brought.crane.pk}) in body_of(page)


def test_a_note_is_written_where_it_stands_by_the_form_of_its_page(
    client_for: ClientFor, issued_meeting: Meeting, brought: Brought, report: Person
) -> None:
    client, write = client_for(report), reverse("margin-write", kwargs={"topic_id": brought.crane.pk})
    part = client.get(write, headers={"HX-Request": "true"})
    assert "<html" not in body_of(part)
    form = read(body_of(part)).one("form", action=write)
    assert form.one("input", name="revision").attributes["value"] == "0"
    sent = {"words": "Ask for the tide table", "revision": 0, "next": page_of(issued_meeting)}
    assert client.post(write, sent).status_code == 302
    assert_sees(client.get(page_of(issued_meeting)), "Ask for the tide table")


def test_a_move_is_asked_for_below_the_address_of_the_topics_own_page(
    issued_meeting: Meeting, brought: Brought
) -> None:
    """As ``move-in-list.js`` and ``drag-in-list.js`` put it together."""
    pk = placement_of(brought.crane).pk
    own = reverse("placement", args=[pk])
    assert reverse("placement-move", args=[pk]) == f"{own}move/"
    assert reverse("placement-start", args=[pk]) == f"{own}start/"


def test_notes_are_printed_only_when_asked_for_and_then_say_for_whom(
    client_for: ClientFor, issued_meeting: Meeting, report: Person
) -> None:
    client = client_for(report)
    assert_not_sees(client.get(page_of(issued_meeting)), "rail-prints-margin")
    asked = client.get(f"{page_of(issued_meeting)}?notes")
    assert_sees(asked, "rail-prints-margin")
    assert_sees(asked, "Printed for Tomas Lindqvist only")


def test_what_waits_beyond_a_few_stands_behind_one_line(
    client_for: ClientFor,
    next_meeting: Meeting,
    taken_on: TakenOn,
    report: Person,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def rows(page: Node) -> list[str]:
        return [more.words() for node in page.all("details") for more in node.all("summary")]

    client = client_for(report)
    assert "One more" not in rows(read(body_of(client.get(page_of(next_meeting)))))
    monkeypatch.setattr(strip, "SHOWN", 0)
    page = read(body_of(client.get(page_of(next_meeting))))
    assert "One more" in rows(page)
    assert reverse("commitment-confirm", args=[taken_on.offered.pk]) in body_of(
        client.get(page_of(next_meeting))
    )


def test_the_other_sides_importance_stands_beside_a_topic_in_words(
    client_for: ClientFor,
    issued_meeting: Meeting,
    brought: Brought,
    manager: Person,
    report: Person,
    now: dt.datetime,
) -> None:
    importance.set_importance(topic=brought.sheet, level="if_time", actor=manager, now=now)
    assert_sees(client_for(report).get(page_of(issued_meeting)), "Ines: if time allows")
    seen_by_manager = client_for(manager).get(page_of(issued_meeting))
    assert_sees(seen_by_manager, "you: if time allows")
    assert_sees(seen_by_manager, "You say: first.")


def test_of_a_topic_without_a_place_nobody_is_said_to_say_what_they_have_not_said(
    client_for: ClientFor, meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    stiff(line, report, "The roster", 25, must=True)
    paint = stiff(line, report, "Paint", 25, importance="if_time")
    page = page_of(meeting)
    shown = client_for(report).get(page)
    assert_sees(shown, "You say: if time allows.")
    assert_not_sees(shown, "Ines says:")
    importance.set_importance(topic=paint, level="if_time", actor=manager, now=now)
    assert_sees(client_for(report).get(page), "Ines says: if time allows.")


def test_a_side_whose_topics_were_all_left_out_is_not_said_to_bring_nothing(
    client_for: ClientFor, meeting: Meeting, line: Line, manager: Person, report: Person
) -> None:
    page = page_of(meeting)
    assert_sees(client_for(report).get(page), "Ines brings nothing yet")
    stiff(line, report, "The roster", 25, must=True)
    stiff(line, manager, "Paint", 25, importance="if_time")
    assert_sees(client_for(report).get(page), "nothing Ines brings has a place")
    assert_sees(client_for(manager).get(page), "nothing you bring has a place")
    assert_not_sees(client_for(manager).get(page), "nothing yet")


def test_before_issue_it_is_a_preview_and_says_when_it_will_be_issued(
    client_for: ClientFor, meeting: Meeting, brought: Brought, report: Person
) -> None:
    shown = client_for(report).get(page_of(meeting))
    assert_sees(shown, "The order as it would be now")
    assert_sees(shown, "The order is issued automatically on Monday 30 November, 12:00.")
    assert_sees(shown, "This date is expected; nobody has confirmed it yet.")
    assert not Order.objects.filter(meeting=meeting).exists()


def test_either_side_issues_at_once_and_a_second_time_changes_nothing(
    client_for: ClientFor, meeting: Meeting, brought: Brought, report: Person
) -> None:
    client = client_for(report)
    for _time in range(2):
        answer = client.post(reverse("meeting-issue", args=[meeting.pk]))
        assert answer.headers["Location"] == f"{page_of(meeting)}#order"
    assert meeting.orders.count() == 1
    assert_sees(client.get(page_of(meeting)), "Order issued Wednesday 25 November, 10:00, by you.")


def test_what_does_not_fit_is_kept_with_its_reason_in_minutes(
    client_for: ClientFor, meeting: Meeting, brought: Brought, line: Line, report: Person
) -> None:
    make_topic(line, report, "Paint for the pontoon rail", minutes=40)
    shown = client_for(report).get(page_of(meeting))
    assert_sees(shown, "The topics ask for 82 minutes and there are 41: one of them is kept for next time.")
    kept = body_of(shown).split('id="kept"')[1]
    assert "Paint for the pontoon rail" in kept
    assert "It needs at least 20 minutes," in kept


def test_more_must_discuss_than_there_is_time_for_is_said_in_minutes_with_ways_out(
    client_for: ClientFor, meeting: Meeting, line: Line, manager: Person, report: Person
) -> None:
    make_topic(line, manager, "Dry dock in spring", minutes=40, must=True)
    topics.add(
        line=line,
        wording=topics.Wording(title="The new roster", minutes_wanted=40, minutes_least=40),
        actor=report,
        now=meeting.created_at,
        must=True,
    )
    shown = client_for(report).get(page_of(meeting))
    assert_sees(shown, "What must be discussed needs at least 60 minutes; there are 41: 19 too many.")
    assert_sees(shown, "Take “must be discussed” off “The new roster”: that frees 40 minutes.")
    assert_sees(shown, "Meet 19 minutes longer.")
    assert_sees(shown, "The new roster")


def test_a_meeting_without_topics_has_its_whole_time_free(
    client_for: ClientFor, meeting: Meeting, report: Person
) -> None:
    shown = client_for(report).get(page_of(meeting))
    assert_sees(shown, "Not spoken for")
    assert_sees(shown, "41 min, free")


# --- what has changed since it was read


def test_marking_the_order_as_read_is_kept_for_oneself_alone(
    client_for: ClientFor, issued_meeting: Meeting, manager: Person, report: Person
) -> None:
    client = client_for(report)
    assert_sees(client.get(page_of(issued_meeting)), "You have not marked it as read yet.")
    client.post(reverse("order-read", args=[issued_meeting.pk]), {"number": 1})
    assert_sees(client.get(page_of(issued_meeting)), "Nothing changed since you read it.")
    assert_sees(client_for(manager).get(page_of(issued_meeting)), "You have not marked it as read yet.")


def test_what_changed_since_is_marked_in_words_at_the_topic(
    client_for: ClientFor,
    issued_meeting: Meeting,
    brought: Brought,
    manager: Person,
    report: Person,
    now: dt.datetime,
) -> None:
    client = client_for(report)
    client.post(reverse("order-read", args=[issued_meeting.pk]), {"number": 1})
    topics.withdraw(topic=brought.sundays, actor=manager, now=now)
    keys = issued_meeting.orders.get(number=1).plan["slots"]
    last = next(p for p in issued_meeting.placements.all() if str(p.pk) == keys[-1]["key"])
    placement_by_hand.move(placement=last, places=-3, actor=manager, now=now)
    shown = client.get(page_of(issued_meeting))
    assert body_of(shown).count("Ines moved this from ") == 1
    assert_not_sees(shown, "Moved since you read the order.")
    assert_sees(shown, "No longer in it since you read it:")
    assert_sees(shown, "Order last changed Wednesday 25 November, 10:00, by Ines.")


def test_the_number_of_no_order_marks_nothing(
    client_for: ClientFor, issued_meeting: Meeting, report: Person
) -> None:
    client = client_for(report)
    for number in ("7", "0", "first", ""):
        client.post(reverse("order-read", args=[issued_meeting.pk]), {"number": number})
    assert_sees(client.get(page_of(issued_meeting)), "You have not marked it as read yet.")


# --- the margin


def test_a_margin_is_shown_to_whoever_wrote_it_and_to_nobody_else(
    client_for: ClientFor,
    issued_meeting: Meeting,
    brought: Brought,
    manager: Person,
    report: Person,
    now: dt.datetime,
) -> None:
    margin.write(
        topic=brought.crane,
        words="Ask about the spring tide",
        unclear=True,
        revision=0,
        actor=report,
        now=now,
        today=now.date(),
    )
    own = client_for(report).get(page_of(issued_meeting))
    assert_sees(own, "Ask about the spring tide")
    assert_sees(own, "Yours, not shown to Ines")
    assert 'class="unclear"' in body_of(own)
    others = client_for(manager).get(page_of(issued_meeting))
    assert_not_sees(others, "Ask about the spring tide")
    assert 'class="unclear"' not in body_of(others)


# --- the invitation


def test_the_managers_word_is_shown_to_both(
    client_for: ClientFor, meeting: Meeting, manager: Person, report: Person
) -> None:
    word = "Bring what kept you from the winter roster."
    answer = client_for(manager).post(reverse("meeting-invite", args=[meeting.pk]), {"words": word})
    assert answer.headers["Location"] == page_of(meeting)
    for person in (manager, report):
        shown = client_for(person).get(page_of(meeting))
        assert_sees(shown, word)
        assert_sees(shown, "Ines asked for topics on Wednesday 25 November, 10:00.")


def test_too_long_a_word_is_refused_and_kept(
    client_for: ClientFor, meeting: Meeting, manager: Person
) -> None:
    word = "w" * 501
    answer = client_for(manager).post(reverse("meeting-invite", args=[meeting.pk]), {"words": word})
    assert answer.status_code == 422
    assert word in body_of(answer)
    meeting.refresh_from_db()
    assert meeting.invited_at is None


def test_somebody_who_has_not_joined_is_said_to_see_it_when_they_do(
    client_for: ClientFor, manager: Person, now: dt.datetime
) -> None:
    made = invite_report(manager, now=now)
    shown = client_for(manager).get(page_of(coming_of(made.line)))
    assert_sees(shown, "They see this when they join")
    assert_sees(shown, "Noor has been invited and has not joined yet.")
    assert_sees(shown, "Topics can be added now. You are asked for them automatically on ")


# --- the opening


def test_the_opening_names_what_is_due_and_lets_only_its_owner_say_how_it_went(
    client_for: ClientFor, next_meeting: Meeting, taken_on: TakenOn, manager: Person, report: Person
) -> None:
    commitments.confirm(commitment=taken_on.offered, actor=report, now=AFTER)
    own = client_for(report).get(page_of(next_meeting))
    assert_sees(own, taken_on.managers.action)
    assert reverse("commitment-done", args=[taken_on.reports.pk]) in body_of(own)
    assert reverse("commitment-done", args=[taken_on.managers.pk]) not in body_of(own)
    opened = client_for(report).get(reverse("meeting-opening", args=[next_meeting.pk]))
    assert_sees(opened, "two for each of 3 commitments")
    assert reverse("commitment-date", args=[taken_on.reports.pk]) in body_of(opened)
    assert reverse("commitment-done", args=[taken_on.managers.pk]) not in body_of(opened)
    assert_sees(client_for(manager).get(page_of(next_meeting)), taken_on.reports.action)


def test_the_opening_says_what_its_minutes_are_made_of_and_that_a_quarter_is_the_most(
    client_for: ClientFor, next_meeting: Meeting, taken_on: TakenOn, report: Person
) -> None:
    client, page = client_for(report), reverse("meeting-opening", args=[next_meeting.pk])
    assert_sees(client.get(page), "Four minutes to arrive, and two for each of 2 commitments")
    # 4 + 2 * 2 minutes are more than a quarter of half an hour.
    Meeting.objects.filter(pk=next_meeting.pk).update(minutes=30)
    shown = client.get(page)
    assert_not_sees(shown, "Four minutes to arrive")
    assert_sees(
        shown, "2 commitments are due or have changed. The opening takes a quarter of the time at most."
    )


def test_carried_a_second_time_it_asks_its_owner_to_choose(
    client_for: ClientFor, next_meeting: Meeting, taken_on: TakenOn, manager: Person, report: Person
) -> None:
    for day in (dt.date(2027, 3, 4), dt.date(2027, 6, 3)):
        coming = coming_of(next_meeting.line)
        began = dt.datetime.combine(day, dt.time(10), dt.UTC)
        meetings.start(meeting=coming, actor=manager, now=began)
        meetings.close(meeting=coming, actor=manager, now=began + dt.timedelta(minutes=40))
        carrying.carry(meeting=coming, now=began + dt.timedelta(hours=1))
    client, later = client_for(report), page_of(coming_of(next_meeting.line))
    clock.hold_at(dt.datetime(2027, 6, 4, 9, 0, tzinfo=dt.UTC))
    assert_sees(client.get(later), "carried over 2 times")
    opening = reverse("meeting-opening", args=[coming_of(next_meeting.line).pk])
    shown = client.get(opening)
    assert_sees(shown, "Keep it, change the date, hand it over or drop it?")
    acts = ("keep", "hand-over", "drop", "date", "done")
    for name in acts:
        assert reverse(f"commitment-{name}", args=[taken_on.reports.pk]) in body_of(shown)
    theirs = client_for(manager)
    clock.hold_at(dt.datetime(2027, 6, 4, 9, 0, tzinfo=dt.UTC))
    assert reverse("commitment-drop", args=[taken_on.reports.pk]) not in body_of(theirs.get(opening))
    clock.hold_at(dt.datetime(2027, 6, 4, 9, 0, tzinfo=dt.UTC))
    client.post(reverse("commitment-keep", args=[taken_on.reports.pk]))
    shown = client.get(opening)
    assert_not_sees(shown, "Keep it, change the date, hand it over or drop it?")
    assert_sees(shown, "kept as it is")


def test_an_offered_commitment_waits_for_its_owner_and_is_shown_as_such(
    client_for: ClientFor, next_meeting: Meeting, taken_on: TakenOn, manager: Person, report: Person
) -> None:
    confirm = reverse("commitment-confirm", args=[taken_on.offered.pk])
    assert confirm in body_of(client_for(report).get(page_of(next_meeting)))
    theirs = client_for(manager).get(page_of(next_meeting))
    assert confirm not in body_of(theirs)
    assert_sees(theirs, "waits for Tomas to confirm it.")


# --- other states


def test_under_way_it_leads_to_the_meeting_and_closed_to_the_record(
    client_for: ClientFor, under_way_meeting: Meeting, manager: Person, report: Person
) -> None:
    client = client_for(report)
    clock.hold_at(AFTER)
    assert reverse("meeting-live", args=[under_way_meeting.pk]) in body_of(
        client.get(page_of(under_way_meeting))
    )
    meetings.close(meeting=under_way_meeting, actor=manager, now=AFTER)
    closed = client.get(page_of(under_way_meeting))
    assert reverse("record", args=[under_way_meeting.pk]) in body_of(closed)
    assert reverse("meeting-start", args=[under_way_meeting.pk]) not in body_of(closed)


def test_called_off_it_leads_to_the_next_one(
    client_for: ClientFor, meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    following = meetings.call_off(meeting=meeting, actor=manager, now=now)
    assert following is not None
    shown = client_for(report).get(page_of(meeting))
    assert_sees(shown, "This one-on-one is called off.")
    assert page_of(following) in body_of(shown)


def test_called_off_the_order_that_was_issued_stays_to_read(
    client_for: ClientFor, issued_meeting: Meeting, brought: Brought, manager: Person, now: dt.datetime
) -> None:
    meetings.call_off(meeting=issued_meeting, actor=manager, now=now)
    shown = client_for(manager).get(page_of(issued_meeting))
    assert_sees(shown, brought.crane.title)
    assert_sees(shown, "Not reached, kept for next time.")


def test_of_a_meeting_that_was_held_without_the_page_no_order_is_made_up(
    client_for: ClientFor, line: Line, report: Person, now: dt.datetime
) -> None:
    held = held_claims.we_met(
        line=line,
        day=dt.date(2026, 11, 20),
        meeting=None,
        discussed=[],
        actor=report,
        now=now,
        today=now.date(),
    )
    shown = client_for(report).get(page_of(held))
    assert_sees(shown, "No order was issued for it.")
    assert_sees(shown, "outside the interval")
    assert_not_sees(shown, "Not spoken for")


def test_an_extra_meeting_can_be_moved_and_called_off_like_any_other(
    client_for: ClientFor, line: Line, meeting: Meeting, report: Person, now: dt.datetime
) -> None:
    extra = meetings.extra(
        line=line, day=dt.date(2026, 11, 27), time=dt.time(15, 0), minutes=30, actor=report, now=now
    )
    client = client_for(report)
    assert_sees(client.get(page_of(extra)), "Friday 27 November, 15:00 to 15:30")
    assert_sees(client.get(reverse("meeting-move", args=[extra.pk])), "Thursday 26 November")
    # From 7 September 2026, when the line began, to 3 December: 87 days.
    assert (dt.date(2026, 12, 3) - dt.date(2026, 9, 7)).days == 87
    assert_sees(client.get(reverse("meeting-call-off", args=[extra.pk])), "87 days without a one-on-one")


def test_its_time_having_passed_it_asks_whether_they_met(
    client_for: ClientFor, meeting: Meeting, report: Person
) -> None:
    client = client_for(report)
    clock.hold_at(dt.datetime(2026, 12, 3, 11, 30, tzinfo=dt.UTC))
    shown = client.get(page_of(meeting))
    assert_sees(shown, "Did you meet?")
    assert reverse("meeting-held", args=[meeting.pk]) in body_of(shown)


# --- cost


def test_ten_topics_take_as_many_queries_as_five(
    client_for: ClientFor,
    issued_meeting: Meeting,
    brought: Brought,
    line: Line,
    manager: Person,
    report: Person,
    now: dt.datetime,
) -> None:
    client = client_for(report)
    client.post(reverse("order-read", args=[issued_meeting.pk]), {"number": 1})
    note(brought.crane, report, now)
    placement_by_hand.move(
        placement=placement_of(brought.licence), places=-1, actor=manager, now=now
    )  # so that the order read is looked up in both counts
    # One that waits for an answer in both counts: what waits is read once there is any.
    make_topic(line, manager, "Fenders for the winter", minutes=20, now=now)
    client.get(page_of(issued_meeting))
    with queries() as five:
        client.get(page_of(issued_meeting))
    for number in range(5):
        note(make_topic(line, manager, f"Fender {number}", minutes=2, now=now), report, now)
    with queries() as ten:
        shown = client.get(page_of(issued_meeting))
    assert body_of(shown).count('id="topic-') >= 10
    assert len(ten) == len(five)


def test_a_preview_of_ten_topics_takes_as_many_queries_as_of_five(
    client_for: ClientFor,
    meeting: Meeting,
    brought: Brought,
    line: Line,
    manager: Person,
    report: Person,
    now: dt.datetime,
) -> None:
    client = client_for(report)
    note(brought.crane, report, now)
    client.get(page_of(meeting))
    with queries() as five:
        client.get(page_of(meeting))
    for number in range(5):
        note(make_topic(line, manager, f"Fender {number}", minutes=2), report, now)
    with queries() as ten:
        client.get(page_of(meeting))
    assert len(ten) == len(five)


def note(topic: object, actor: Person, now: dt.datetime) -> None:
    margin.write(
        topic=topic,  # type: ignore[arg-type]
        words="Which one?",
        unclear=False,
        revision=0,
        actor=actor,
        now=now,
        today=now.date(),
    )


def test_put_in_order_anew_shows_what_would_move_before_it_is_taken(
    client_for: ClientFor, issued_meeting: Meeting, brought: Brought, report: Person, now: dt.datetime
) -> None:
    client = client_for(report)
    anew = reverse("order-anew", args=[issued_meeting.pk])
    assert_sees(client.get(page_of(issued_meeting)), "Put in order anew")
    assert_sees(client.post(anew, follow=True), "They are in that order already: nothing would move.")
    placement_by_hand.move(placement=placement_of(brought.crane), places=9, actor=report, now=now)
    shown = client.post(anew)
    assert_sees(shown, "Put the topics in order anew?")
    assert_sees(shown, "Changes places.")
    assert issued_meeting.orders.count() == 2
    take(client, anew, {})
    assert issued_meeting.orders.count() == 3
    assert_sees(client.get(page_of(issued_meeting)), "Undo the last move")
