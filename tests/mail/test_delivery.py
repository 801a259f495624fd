"""From what is owed to what arrives, with a real server on loopback and a fault at every point between."""

from __future__ import annotations

import datetime as dt
import logging

import pytest

from accounts.models import Person
from oneonone.mail import messages
from oneonone.mail.delivery import deliver_one
from oneonone.mail.post import Post
from oneonone.models import Mail, Meeting
from oneonone.services import mails, meetings, sending
from tests.mail.server import CUT, Script

pytestmark = pytest.mark.django_db
TEN_MINUTES = dt.timedelta(minutes=10)


def owe(now: dt.datetime, to: str = "ines@example.org") -> Mail:
    return mails.owe_account_mail(to_address=to, person=None, subject="Your code", body="4711", now=now)


def deliver(now: dt.datetime) -> int:
    count = 0
    with Post() as post:
        while deliver_one(now, post=post):
            count += 1
    return count


def state_of(mail: Mail) -> str:
    mail.refresh_from_db()
    return mail.state


def test_what_is_owed_arrives_once_and_delivering_again_changes_nothing(
    smtp: Script, meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    meetings.invite(meeting=meeting, actor=None, words="", now=now)
    while mails.gather_one(now):
        pass
    assert deliver(now) == 2
    assert sorted(smtp.recipients) == [[manager.email], [report.email]]
    assert {mail["Subject"] for mail in smtp.got} == {"Topics are asked for"}
    before = list(Mail.objects.values())
    assert deliver(now + TEN_MINUTES) == 0
    assert len(smtp.got) == 2
    assert list(Mail.objects.values()) == before


def test_refused_for_now_it_arrives_at_the_next_try_under_the_same_message_id(
    smtp: Script, now: dt.datetime
) -> None:
    mail = owe(now)
    smtp.rcpt.append("451 greylisted")
    deliver(now)
    assert (state_of(mail), mail.error, smtp.got) == ("queued", "451", [])
    deliver(now)
    assert smtp.got == []
    deliver(now + dt.timedelta(minutes=1))
    assert state_of(mail) == "sent"
    assert [got["Message-ID"] for got in smtp.got] == [mail.message_id]


def test_refused_for_good_it_is_not_tried_again(smtp: Script, now: dt.datetime) -> None:
    mail = owe(now)
    smtp.rcpt.append("550 no such mailbox")
    deliver(now)
    assert (state_of(mail), mail.error) == ("failed", "550")
    assert deliver(now + dt.timedelta(hours=5)) == 0


def test_cut_after_the_text_it_is_unknown_and_not_sent_again(smtp: Script, now: dt.datetime) -> None:
    mail = owe(now)
    smtp.data.append(CUT)
    deliver(now)
    assert state_of(mail) == "unknown"
    assert deliver(now + dt.timedelta(hours=5)) == 0
    assert len(smtp.got) == 1


def test_one_bad_mail_does_not_keep_the_others_back(
    smtp: Script, now: dt.datetime, caplog: pytest.LogCaptureFixture
) -> None:
    bad, good = owe(now), owe(now + dt.timedelta(seconds=1), to="tomas@example.org")
    Mail.objects.filter(pk=bad.pk).update(to_address="not an address\n")
    with caplog.at_level(logging.CRITICAL):
        deliver(now + dt.timedelta(seconds=1))
    assert (state_of(bad), state_of(good)) == ("failed", "sent")
    assert smtp.recipients == [["tomas@example.org"]]


def test_without_a_server_the_run_stops_at_the_first_and_all_of_them_wait(
    smtp: Script, now: dt.datetime, settings: object
) -> None:
    for _time in range(3):
        owe(now)
    settings.EMAIL_PORT = 1  # type: ignore[attr-defined]  # nobody listens on the port of TCPMUX
    assert deliver(now) == 0
    waiting = [(mail.state, mail.attempts) for mail in Mail.objects.all()]
    assert waiting == [("queued", 0)] * 3


class Crash(BaseException):
    """The process dies here: nothing in the code under test may catch it."""


def test_a_crash_between_claim_and_sending_loses_nothing_silently(
    smtp: Script, now: dt.datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing was sent, but afterwards nobody can know: the administrator is told, and it is not resent."""

    def die(*args: object, **kwargs: object) -> None:
        raise Crash

    mail = owe(now)
    with monkeypatch.context() as patch:
        patch.setattr(messages, "of", die)
        with pytest.raises(Crash):
            deliver(now)
    assert state_of(mail) == "sending"
    assert deliver(now) == 0
    assert sending.find_unknown(now + TEN_MINUTES) == 1
    assert deliver(now + TEN_MINUTES) == 0
    assert (state_of(mail), smtp.got) == ("unknown", [])


def test_a_crash_between_sending_and_settling_sends_nothing_twice(
    smtp: Script, now: dt.datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    def die(*args: object, **kwargs: object) -> None:
        raise Crash

    mail = owe(now)
    with monkeypatch.context() as patch:
        patch.setattr(sending, "settle", die)
        with pytest.raises(Crash):
            deliver(now)
    assert (state_of(mail), len(smtp.got)) == ("sending", 1)
    assert deliver(now) == 0
    sending.find_unknown(now + TEN_MINUTES)
    assert deliver(now + TEN_MINUTES) == 0
    assert (state_of(mail), len(smtp.got)) == ("unknown", 1)


def test_a_sender_that_marked_nothing_before_sending_would_send_twice(
    smtp: Script, now: dt.datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The twin of the one above, without the claim: what it guards against does happen."""

    def die(*args: object, **kwargs: object) -> None:
        raise Crash

    mail = owe(now)
    with monkeypatch.context() as patch:
        patch.setattr(sending, "settle", die)
        with pytest.raises(Crash):
            deliver(now)
    Mail.objects.filter(pk=mail.pk).update(state="queued")
    deliver(now)
    assert len(smtp.got) == 2
