"""From what is owed to what arrives, with a real server on loopback and a fault at every point between."""

from __future__ import annotations

import datetime as dt
import logging
from collections.abc import Callable
from typing import Any

import pytest
from django.db import InterfaceError, OperationalError

from accounts.models import Person
from oneonone.mail import delivery, messages
from oneonone.mail.delivery import deliver_one
from oneonone.mail.post import Post
from oneonone.models import Mail, Meeting
from oneonone.services.meetings import meetings
from oneonone.services.notices import mail_sending, mails
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
    list(mails.GATHER.each(now, most=100))
    assert deliver(now) == 0
    morning = dt.datetime(2026, 11, 26, 8, 0, tzinfo=dt.UTC)
    assert deliver(morning) == 2
    assert sorted(smtp.recipients) == [[manager.email], [report.email]]
    assert {mail["Subject"] for mail in smtp.got} == {"Topics for 3 December"}
    before = list(Mail.objects.values())
    assert deliver(morning + TEN_MINUTES) == 0
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


def at_the_first_byte(monkeypatch: pytest.MonkeyPatch, act: Callable[[], None]) -> None:
    """Do something between the go-ahead for the text and its first byte."""
    real = mail_sending.begin

    def begin(**told: Any) -> None:
        act()
        real(**told)

    monkeypatch.setattr(mail_sending, "begin", begin)


def crash() -> None:
    raise Crash


def test_a_crash_after_the_go_ahead_and_before_the_first_byte_sends_it_later_and_once(
    smtp: Script, now: dt.datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    mail = owe(now)
    with monkeypatch.context() as patch:
        at_the_first_byte(patch, crash)
        with pytest.raises(Crash):
            deliver(now)
    assert (state_of(mail), smtp.got) == ("claimed", [])
    mail_sending.take_back(now + TEN_MINUTES)
    assert deliver(now + TEN_MINUTES) == 1
    assert (state_of(mail), [got["Message-ID"] for got in smtp.got]) == ("sent", [mail.message_id])


def test_while_the_text_leaves_it_is_sending_in_the_database(
    smtp: Script, now: dt.datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    mail, seen = owe(now), []
    at_the_first_byte(monkeypatch, lambda: seen.append(state_of(mail)))
    monkeypatch.setattr(mail_sending, "settle", lambda **told: seen.append(state_of(mail)))
    deliver(now)
    assert seen == ["claimed", "sending"]


def test_a_process_whose_claim_was_given_away_sends_nothing(
    smtp: Script, now: dt.datetime, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """It slept for too long after the claim: another one has sent the mail by the time it wakes up."""
    mail = owe(now)

    def oversleep() -> None:
        patch.undo()
        mail_sending.take_back(now + TEN_MINUTES)
        assert deliver(now + TEN_MINUTES) == 1

    patch = pytest.MonkeyPatch()
    at_the_first_byte(patch, oversleep)
    with caplog.at_level(logging.CRITICAL):
        deliver(now)
    assert (state_of(mail), len(smtp.got)) == ("sent", 1)


def test_without_the_token_of_its_claim_such_a_process_sends_a_second_copy(
    smtp: Script, now: dt.datetime
) -> None:
    owe(now)

    def oversleep(**told: object) -> None:
        patch.undo()
        mail_sending.take_back(now + TEN_MINUTES)
        deliver(now + TEN_MINUTES)

    patch = pytest.MonkeyPatch()
    patch.setattr(mail_sending, "begin", oversleep)
    deliver(now)
    assert len(smtp.got) == 2


@pytest.mark.parametrize("fault", [OperationalError, InterfaceError])
@pytest.mark.parametrize("where", ["writing", "first byte"])
def test_a_fault_of_the_database_is_none_of_the_mail_which_is_sent_later(
    smtp: Script, now: dt.datetime, monkeypatch: pytest.MonkeyPatch, fault: type[Exception], where: str
) -> None:
    mail = owe(now)

    def away(*told: object, **more: object) -> None:
        raise fault

    with monkeypatch.context() as patch:
        patch.setattr(*((messages, "of") if where == "writing" else (mail_sending, "begin")), away)
        with pytest.raises(fault):
            deliver(now)
    assert (state_of(mail), smtp.got) == ("claimed", [])
    mail_sending.take_back(now + TEN_MINUTES)
    deliver(now + TEN_MINUTES)
    assert (state_of(mail), len(smtp.got)) == ("sent", 1)


def test_one_that_no_sender_survives_is_given_up(
    smtp: Script, now: dt.datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    mail = owe(now)
    monkeypatch.setattr(messages, "of", lambda *told, **more: crash())
    for _time in range(mail_sending.MOST_ATTEMPTS):
        with pytest.raises(Crash):
            deliver(now)
        now += TEN_MINUTES
        assert mail_sending.take_back(now) == 1
    assert (state_of(mail), mail.error, mail.body, smtp.got) == ("failed", "sender gone", "", [])
    assert deliver(now + TEN_MINUTES) == 0


def test_a_crash_between_claim_and_sending_loses_nothing(
    smtp: Script, now: dt.datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing was sent, and the database can tell: it goes back to the queue, and arrives once."""

    def die(*args: object, **kwargs: object) -> None:
        raise Crash

    mail = owe(now)
    with monkeypatch.context() as patch:
        patch.setattr(messages, "of", die)
        with pytest.raises(Crash):
            deliver(now)
    assert state_of(mail) == "claimed"
    assert deliver(now) == 0
    assert mail_sending.find_unknown(now + TEN_MINUTES) == 0
    assert mail_sending.take_back(now + TEN_MINUTES) == 1
    assert deliver(now + TEN_MINUTES) == 1
    assert (state_of(mail), len(smtp.got)) == ("sent", 1)


def test_a_crash_between_sending_and_settling_sends_nothing_twice(
    smtp: Script, now: dt.datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    def die(*args: object, **kwargs: object) -> None:
        raise Crash

    mail = owe(now)
    with monkeypatch.context() as patch:
        patch.setattr(mail_sending, "settle", die)
        with pytest.raises(Crash):
            deliver(now)
    assert (state_of(mail), len(smtp.got)) == ("sending", 1)
    assert deliver(now) == 0
    mail_sending.find_unknown(now + TEN_MINUTES)
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
        patch.setattr(mail_sending, "settle", die)
        with pytest.raises(Crash):
            deliver(now)
    Mail.objects.filter(pk=mail.pk).update(state="queued")
    deliver(now)
    assert len(smtp.got) == 2


@pytest.mark.django_db(transaction=True)
def test_a_database_that_comes_back_soon_is_waited_for_with_what_became_of_the_mail(
    smtp: Script, now: dt.datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    mail, real, away = owe(now), mail_sending.settle, [2]

    def settle(**told: Any) -> Mail:
        if away[0]:
            away[0] -= 1
            raise OperationalError
        return real(**told)

    monkeypatch.setattr(mail_sending, "settle", settle)
    monkeypatch.setattr(delivery, "PAUSE_SECONDS", 0)
    deliver(now)
    assert (state_of(mail), len(smtp.got)) == ("sent", 1)
