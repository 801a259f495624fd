"""What mails say: times and links, in two forms, and nobody's words."""

from __future__ import annotations

import dataclasses
import datetime as dt
from typing import Any
from uuid import uuid4

import pytest
from django.core.mail import EmailMultiAlternatives
from django.urls import reverse
from pytest_django import Settings

from accounts.models import Person
from accounts.services import invitations
from oneonone.mail import links, messages, subjects, wording
from oneonone.models import Commitment, Line, Mail, Meeting, Notice
from oneonone.selectors.notices import notices as selector
from oneonone.selectors.notices.notices import NoticeView
from oneonone.services.notices import mails, notices
from oneonone.services.notices.mail_sending import Claimed
from tests.scene import AFTER, TakenOn

pytestmark = pytest.mark.django_db


def owe(person: Person, now: dt.datetime, kind: str, line: Line, **more: object) -> Notice:
    values: dict[str, object] = {"kind": kind, "person": person, "subject": uuid4(), "line": line, "now": now}
    return notices.owe(**{**values, **more})  # type: ignore[arg-type]


def digest(person: Person, owed: list[Notice], now: dt.datetime) -> EmailMultiAlternatives:
    mail = Mail(kind="digest", person=person, to_address=person.email, message_id="<1@localhost>")
    rows = selector.with_rows(Notice.objects.filter(pk__in=[notice.pk for notice in owed]))
    return messages.of(Claimed(mail, uuid4(), tuple(rows.order_by("owed_at"))), now=now)


def html_of(message: EmailMultiAlternatives) -> str:
    ((content, mimetype),) = message.alternatives
    assert mimetype == "text/html"
    return str(content)


def test_it_says_who_and_when_by_the_readers_clocks_and_links_to_the_page(
    meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    manager.zone = "America/New_York"
    owed = owe(manager, now, "invite", meeting.line, subject=meeting.pk, meeting=meeting)
    message = digest(manager, [owed], now)
    link = f"http://localhost:8000{reverse('meeting', args=[meeting.pk])}"
    for text in (str(message.body), html_of(message)):
        assert "You meet Tomas Lindqvist on Thursday 3 December 2026, 05:00 (America/New_York)" in text
        assert link in text
    assert message.subject == "Topics for 3 December"
    assert message.to == [manager.email]


def test_the_headers_name_the_mail_its_time_and_that_nobody_need_answer(
    meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    message = digest(manager, [owe(manager, now, "joined", meeting.line)], now).message()
    assert message["Message-ID"] == "<1@localhost>"
    assert message["Date"] == "Wed, 25 Nov 2026 10:00:00 +0000"
    assert message["Auto-Submitted"] == "auto-generated"
    assert message.get_content_type() == "multipart/alternative"


@pytest.mark.parametrize("kind", Notice.Kind.values)
def test_every_kind_has_a_sentence_and_a_page_to_act_on(
    meeting: Meeting, taken_on: TakenOn, manager: Person, kind: str
) -> None:
    commitment: Commitment = taken_on.managers
    view = NoticeView(
        id=uuid4(),
        kind=kind,
        owed_at=AFTER,
        subject=uuid4(),
        other="Tomas Lindqvist",
        line_id=meeting.line_id,
        meeting_id=meeting.pk,
        starts_at=meeting.starts_at,
        zone=meeting.zone,
        commitment_id=commitment.pk,
        date=dt.date(2026, 12, 17),
    )
    said = wording.sentence(view, manager)
    assert "Tomas Lindqvist" in said
    assert "%(" not in said
    for at_hand in (view, dataclasses.replace(view, meeting_id=None, line_id=None)):
        assert links.of_notice(at_hand).startswith("http://localhost:8000/")
    assert wording.sentence(dataclasses.replace(view, kind="cadence", is_over=True), manager).endswith(
        "That day has passed."
    )


def test_a_digest_says_first_what_waits_for_an_answer(
    meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    owed = [owe(manager, now, kind, meeting.line, meeting=meeting) for kind in ("joined", "proposal")]
    body = str(digest(manager, owed, now).body)
    assert body.index("waits for your answer") < body.index("has joined")


def view_of(kind: str, day: int = 3, **changes: object) -> NoticeView:
    starts = dt.datetime(2026, 12, day, 10, 0, tzinfo=dt.UTC)
    view = NoticeView(id=uuid4(), kind=kind, owed_at=AFTER, subject=uuid4(), other="Tomas", starts_at=starts)
    return dataclasses.replace(view, **changes)  # type: ignore[arg-type]


def test_a_subject_says_in_counts_and_dates_what_the_mail_is_about(manager: Person) -> None:
    due = view_of("commitment", starts_at=None, date=dt.date(2026, 12, 17))
    for views, said in [
        ([view_of("today")], "One-on-one on 3 December"),
        ([view_of("today", 4), view_of("today", 3)], "2 one-on-ones from 3 December"),
        ([due], "Commitment due on 17 December"),
        (
            [view_of("invite"), due, view_of("proposal"), view_of("today", 1)],
            "1 question waits for you, one-on-one on 1 December, topics for 3 December, 1 other thing",
        ),
        ([view_of("joined"), view_of("joined")], "2 people you invited have joined"),
    ]:
        assert subjects.of(views, manager) == said


def test_the_day_in_a_subject_is_the_readers_own(manager: Person) -> None:
    manager.zone = "Pacific/Auckland"
    late = dt.datetime(2026, 12, 3, 12, 0, tzinfo=dt.UTC)
    assert subjects.of([view_of("today", starts_at=late)], manager) == "One-on-one on 4 December"


@pytest.mark.parametrize("kind", Notice.Kind.values)
def test_every_kind_has_a_subject_and_none_names_anybody(manager: Person, kind: str) -> None:
    for number in (1, 2):
        said = subjects.of([view_of(kind, date=dt.date(2026, 12, 17))] * number, manager)
        assert said
        assert "other thing" not in said
        assert "Tomas" not in said
        assert "%" not in said


def test_one_press_in_the_mail_program_turns_notices_off(
    meeting: Meeting, manager: Person, now: dt.datetime, settings: Settings
) -> None:
    """RFC 8058, sections 2 and 3.1: a link over TLS, and the header that says what is posted to it."""
    owed = owe(manager, now, "joined", meeting.line)
    plain = digest(manager, [owed], now).message()
    assert plain["List-Unsubscribe"].startswith("<http://localhost:8000/unsubscribe/")
    assert plain["List-Unsubscribe-Post"] is None
    settings.BASE_URL = "https://oneonone.example.org"
    message = digest(manager, [owed], now).message()
    assert message["List-Unsubscribe"].startswith("<https://oneonone.example.org/unsubscribe/")
    assert message["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"


def test_mails_about_the_account_are_no_list(manager: Person, now: dt.datetime) -> None:
    mail = Mail(kind="account", person=manager, to_address=manager.email, message_id="<1@x>", subject="Code")
    assert messages.of(Claimed(mail, uuid4()), now=now).message()["List-Unsubscribe"] is None


def test_no_words_of_topics_records_or_commitments_are_in_any_mail(
    closed_meeting: Meeting, taken_on: TakenOn, manager: Person, report: Person
) -> None:
    owed = [
        owe(report, AFTER, kind, closed_meeting.line, meeting=closed_meeting, commitment=taken_on.offered)
        for kind in Notice.Kind.values
        if kind != "cadence"
    ]
    message = digest(report, owed, AFTER)
    sent = str(message.body) + html_of(message) + str(message.subject)
    assert "Ines Okafor" in sent
    for word in ("crane", "licence", "harbour", "Sunday", "deckhand", "pontoon", "slot"):
        assert word.casefold() not in sent.casefold()


def test_a_name_cannot_break_out_of_its_line_nor_into_markup(
    meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    name = "Tomas\r\nBcc: all@example.org <b>\u202eL"
    Person.objects.filter(pk=report.pk).update(name=name)
    message = digest(manager, [owe(manager, now, "joined", meeting.line)], now)
    assert "Tomas Bcc: all@example.org <b> L has joined." in str(message.body)
    assert "&lt;b&gt;" in html_of(message)
    assert "<b>" not in html_of(message)
    assert "Bcc" not in message.message()


def test_account_mail_is_its_own_text_in_both_forms(now: dt.datetime, settings: Any) -> None:
    settings.MAIL_CAN_LEAVE = True
    mail = mails.owe_account_mail(
        to_address="ines@example.org",
        person=None,
        subject="Your code",
        body="The code: 4711 & <more>\n\nhttp://localhost:8000/account/",
        now=now,
    )
    message = messages.of(Claimed(mail, uuid4()), now=now)
    assert (message.subject, message.to) == ("Your code", ["ines@example.org"])
    assert str(message.body).startswith("The code: 4711 & <more>")
    assert "4711 &amp; &lt;more&gt;" in html_of(message)
    assert 'href="http://localhost:8000/account/"' in html_of(message)


def test_an_invitation_names_who_invites_and_until_when_the_link_works(
    manager: Person, now: dt.datetime, settings: Any
) -> None:
    settings.MAIL_CAN_LEAVE = True
    invitation, _token = invitations.invite(
        email="noor@example.org", name="Noor Haldane", invited_by=manager, now=now
    )
    mail = mails.owe_invitation_mail(invitation=invitation, link="http://localhost:8000/join/abc/", now=now)
    message = messages.of(Claimed(mail, uuid4()), now=now)
    for text in (str(message.body), html_of(message)):
        assert "http://localhost:8000/join/abc/" in text
        assert "Ines Okafor invites you" in text
        assert "Wednesday 2 December 2026" in text
    assert "Ines" not in str(message.subject)
