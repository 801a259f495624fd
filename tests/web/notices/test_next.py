"""Next: what comes, what was taken on, what waits."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from uuid import uuid4

import pytest
from django.urls import reverse

from accounts.models import Person
from oneonone import clock
from oneonone.models import Line, Meeting, Notice
from oneonone.selectors.meetings import next_page
from oneonone.selectors.notices import notices
from oneonone.services.meetings import intervals
from oneonone.services.notices import notices as services
from oneonone.web.notices import notice_wording
from tests.cast import (
    ClientFor,
    assert_not_sees,
    assert_same_bytes,
    assert_sees,
    body_of,
    make_person,
    queries,
)
from tests.scene import AFTER, QUARTERLY, Brought, TakenOn, coming_of, make_line, make_topic


def test_both_sides_find_their_next_meeting(
    issued_meeting: Meeting, manager: Person, report: Person, client_for: ClientFor
) -> None:
    for person in (manager, report):
        page = client_for(person).get(reverse("next"))
        assert_sees(page, "Thursday 3 December, 10:00")
        assert_sees(page, reverse("meeting", args=[issued_meeting.pk]))


def test_an_outsider_finds_nothing_but_the_first_step(
    issued_meeting: Meeting, outsider: Person, client_for: ClientFor
) -> None:
    page = client_for(outsider).get(reverse("next"))
    assert_sees(page, reverse("line-new"))
    assert_not_sees(page, "3 December")


def test_signed_out_it_leads_to_signing_in(client: object, db: None) -> None:
    answer = client.get(reverse("next"))  # type: ignore[attr-defined]
    assert answer["Location"].startswith(reverse("account_login"))


def test_own_commitments_are_there_and_those_of_the_other_side_are_not(
    closed_meeting: Meeting, taken_on: TakenOn, report: Person, client_for: ClientFor
) -> None:
    page = client_for(report).get(reverse("next"))
    assert_sees(page, "Draft the handover sheet")
    assert_sees(page, "Book the licence course")
    assert_not_sees(page, "Ask the harbour for a crane slot")


def test_a_notice_is_said_without_anybodys_words_and_put_away_once(
    issued_meeting: Meeting, brought: Brought, report: Person, client_for: ClientFor
) -> None:
    client = client_for(report)
    notice = Notice.objects.get(person=report, kind=Notice.Kind.ISSUED)
    page = client.get(reverse("next"))
    assert_sees(
        page, "The order is issued for your one-on-one with Ines Okafor on Thursday 3 December, 10:00."
    )
    assert_not_sees(page, brought.crane.title)
    client.post(reverse("notice-read", args=[notice.pk]))
    assert_not_sees(client.get(reverse("next")), "The order is issued for your")


def test_a_notice_of_somebody_else_is_as_missing_as_one_that_never_was(
    issued_meeting: Meeting, report: Person, manager: Person, client_for: ClientFor
) -> None:
    notice = Notice.objects.get(person=report, kind=Notice.Kind.ISSUED)
    client = client_for(manager)
    hidden = client.post(reverse("notice-read", args=[notice.pk]))
    assert_same_bytes(hidden, client.post(reverse("notice-read", args=[uuid4()])))
    notice.refresh_from_db()
    assert notice.read_at is None


def test_all_notices_are_put_away_at_once(
    issued_meeting: Meeting, report: Person, client_for: ClientFor
) -> None:
    client_for(report).post(reverse("notices-read"))
    assert not Notice.objects.filter(person=report, read_at__isnull=True).exists()


def test_getting_puts_nothing_away(issued_meeting: Meeting, report: Person, client_for: ClientFor) -> None:
    client = client_for(report)
    client.get(reverse("next"))
    assert client.get(reverse("notices-read")).status_code == 405
    assert Notice.objects.filter(person=report, read_at__isnull=True).exists()


def test_every_kind_of_notice_has_a_sentence_and_an_address(
    issued_meeting: Meeting, report: Person, closed_meeting: Meeting, taken_on: TakenOn
) -> None:
    for kind in Notice.Kind:
        occurrence = "over 2026-12-01" if kind == Notice.Kind.CADENCE else ""
        row = Notice(
            kind=kind,
            person=report,
            subject=uuid4(),
            line=issued_meeting.line,
            meeting=issued_meeting,
            commitment=taken_on.reports,
            occurrence=occurrence,
            owed_at=issued_meeting.starts_at,
        )
        view = notices.view_of(row, report, now=AFTER)
        assert "%" not in notice_wording.sentence(view)
        assert notice_wording.address(view).startswith("/")


def test_twice_the_meetings_and_commitments_take_as_many_queries(
    line: Line,
    peer_line: Line,
    manager: Person,
    outsider: Person,
    other_report: Person,
    client_for: ClientFor,
) -> None:
    client = client_for(manager)
    client.get(reverse("next"))
    with queries() as few:
        client.get(reverse("next"))
    for person in (outsider, other_report):
        make_topic(make_line(manager, person), manager)
    with queries() as many:
        client.get(reverse("next"))
    assert len(few) == len(many)


def test_the_phase_says_what_can_be_done(issued_meeting: Meeting, report: Person) -> None:
    before = next_page.page(report, now=issued_meeting.issued_at)  # type: ignore[arg-type]
    assert [one.phase for one in before.coming] == ["issued"]
    on_the_day = next_page.page(report, now=issued_meeting.starts_at)
    assert on_the_day.coming[0].phase == "today"


def test_what_waits_for_an_answer_stands_above_the_meetings_and_apart_from_the_news(
    closed_meeting: Meeting, line: Line, manager: Person, report: Person, client_for: ClientFor
) -> None:
    terms = replace(QUARTERLY, every=4)
    intervals.propose(line=line, terms=terms, actor=manager, now=AFTER, today=AFTER.date())
    page = body_of(client_for(report).get(reverse("next")))
    asked = page.index("Ines Okafor proposes another interval.")
    assert page.index("Waits for your answer") < asked < page.index('id="coming"')
    client_for(report).post(reverse("notices-read"))
    assert_sees(client_for(report).get(reverse("next")), "Ines Okafor proposes another interval.")


def test_what_is_offered_is_said_once_and_before_what_was_taken_on(
    closed_meeting: Meeting, taken_on: TakenOn, report: Person, client_for: ClientFor
) -> None:
    page = body_of(client_for(report).get(reverse("next")))
    assert page.count('<span class="commitment-action">Book the licence course') == 1
    assert page.index("Book the licence course") < page.index("Draft the handover sheet")
    assert Notice.objects.filter(kind="offered", person=report, cancelled_at__isnull=True).exists()
    assert "has written down something for you to take on" not in page


@pytest.mark.parametrize("state", ["planned", "under_way"])
def test_whether_they_met_is_asked_once(
    state: str, meeting: Meeting, report: Person, client_for: ClientFor, held_clock: dt.datetime
) -> None:
    Meeting.objects.filter(pk=meeting.pk).update(state=state)
    later = meeting.starts_at + dt.timedelta(days=1)
    clock.hold_at(later)
    kind = "left_open" if state == "under_way" else "unanswered"
    services.owe(kind=kind, person=report, subject=meeting.pk, line=meeting.line, meeting=meeting, now=later)
    assert kind in [view.kind for view in notices.unread(report, now=later)]
    page = body_of(client_for(report).get(reverse("next")))
    assert page.count("Did you meet") == 1
    assert "is still under way. Close it" not in page


def test_a_topic_from_the_first_page_leads_to_the_field_for_it(
    meeting: Meeting, report: Person, client_for: ClientFor
) -> None:
    client = client_for(report)
    agenda = reverse("meeting", args=[meeting.pk])
    assert_sees(client.get(reverse("next")), f'href="{agenda}#add-title"')
    assert_sees(client.get(agenda), 'id="add-title"')


def coming_at(manager: Person, number: int, starts_at: dt.datetime) -> Meeting:
    line = make_line(manager, make_person(f"Ada Brook {number}"))
    meeting = coming_of(line)
    Meeting.objects.filter(pk=meeting.pk).update(starts_at=starts_at)
    return meeting


def test_next_shows_the_meetings_of_eight_weeks_and_at_least_three(manager: Person, now: dt.datetime) -> None:
    """The last day is in; three are shown however far off they are; a fourth one further off is not."""
    bound, minute = now + dt.timedelta(weeks=8), dt.timedelta(minutes=1)
    further = [coming_at(manager, number, bound + number * minute) for number in (1, 2, 3, 4)]

    def shown() -> list[Meeting]:
        return [one.meeting for one in next_page.page(manager, now=now).coming]

    assert shown() == further[:3]
    near = [coming_at(manager, number, bound - (9 - number) * minute) for number in (5, 6, 7, 8)]
    last = coming_at(manager, 9, bound)
    assert shown() == [*near, last]
