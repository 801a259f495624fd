"""How a conversation with a real server on loopback ends, and what that says about the mail."""

from __future__ import annotations

import smtplib
import socket

import pytest
from django.core.mail import EmailMessage
from pytest_django import Settings

from oneonone.mail.post import Handed, Post, told
from oneonone.services.notices.mail_sending import Outcome
from tests.mail.server import CUT, Script, hanging_up_at_data


def message(to: str = "ines@example.org") -> EmailMessage:
    return EmailMessage("Subject", "Body", "one-on-ones@example.org", [to], headers={"Message-ID": "<1@x>"})


def hand_over(count: int = 1) -> list[Handed]:
    with Post() as post:
        return [post.hand_over(message()) for _time in range(count)]


def test_an_accepted_mail_is_sent_and_arrives_once(smtp: Script) -> None:
    assert hand_over() == [Handed(Outcome.SENT)]
    assert [mail["Message-ID"] for mail in smtp.got] == ["<1@x>"]


def test_many_go_over_one_connection(smtp: Script) -> None:
    assert hand_over(5) == [Handed(Outcome.SENT)] * 5
    assert (len(smtp.got), smtp.greeted) == (5, 1)


@pytest.mark.parametrize("step", ["mail", "rcpt", "data"])
@pytest.mark.parametrize(
    ("reply", "outcome"),
    [("451 try again later", Outcome.NOT_NOW), ("550 no such mailbox", Outcome.REFUSED)],
)
def test_a_reply_is_an_answer_at_every_step(smtp: Script, step: str, reply: str, outcome: Outcome) -> None:
    """4yz is a transient, 5yz a permanent negative completion reply (RFC 5321, section 4.2.1)."""
    getattr(smtp, step).append(reply)
    assert hand_over() == [Handed(outcome, reply[:3])]


@pytest.mark.parametrize("step", ["mail", "rcpt"])
def test_a_connection_cut_before_the_text_has_delivered_nothing(smtp: Script, step: str) -> None:
    getattr(smtp, step).append(CUT)
    assert hand_over() == [Handed(Outcome.NOT_NOW, "SMTPServerDisconnected")]
    assert smtp.got == []


def test_a_connection_cut_in_place_of_the_go_ahead_for_the_text_has_delivered_nothing(
    smtp: Script, settings: Settings
) -> None:
    """DATA was sent, but 354 never came, and so neither did the text leave (RFC 5321, section 4.1.1.4)."""
    with hanging_up_at_data() as port:
        settings.EMAIL_PORT = port
        assert hand_over() == [Handed(Outcome.NOT_NOW, "SMTPServerDisconnected")]


def test_a_connection_cut_after_the_text_may_have_delivered_it(smtp: Script) -> None:
    smtp.data.append(CUT)
    assert hand_over() == [Handed(Outcome.UNCONFIRMED, "SMTPServerDisconnected")]
    assert len(smtp.got) == 1


def test_with_djangos_own_backend_a_cut_before_the_text_is_taken_for_one_after_it(
    smtp: Script, settings: Settings
) -> None:
    """What the backend of ours is for: the other cannot tell, and then nothing may be sent again."""
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    smtp.rcpt.append(CUT)
    assert hand_over()[0].outcome is Outcome.UNCONFIRMED


def test_after_a_fault_the_next_mail_begins_with_a_fresh_connection(smtp: Script) -> None:
    smtp.data.append(CUT)
    assert [handed.outcome for handed in hand_over(2)] == [Outcome.UNCONFIRMED, Outcome.SENT]
    assert smtp.greeted == 2


def test_a_server_that_hung_up_on_an_idle_connection_is_called_again_at_once(smtp: Script) -> None:
    with Post() as post:
        assert post.hand_over(message()).outcome is Outcome.SENT
        smtp.mail.append(CUT)
        assert post.hand_over(message()).outcome is Outcome.SENT
    assert (len(smtp.got), smtp.greeted) == (2, 2)


def test_a_refused_recipient_does_not_spoil_the_next_mail(smtp: Script) -> None:
    smtp.rcpt.append("550 no such mailbox")
    assert [handed.outcome for handed in hand_over(2)] == [Outcome.REFUSED, Outcome.SENT]


def test_without_a_server_nothing_was_tried(smtp: Script, settings: Settings) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        settings.EMAIL_PORT = taken.getsockname()[1]
        assert hand_over() == [Handed(Outcome.AWAY, "ConnectionRefusedError")]


def test_a_server_that_accepts_and_never_answers_is_away(smtp: Script, settings: Settings) -> None:
    settings.EMAIL_TIMEOUT = 0.2
    with socket.socket() as silent:
        silent.bind(("127.0.0.1", 0))
        silent.listen()
        settings.EMAIL_PORT = silent.getsockname()[1]
        assert hand_over()[0].outcome is Outcome.AWAY


def test_a_header_with_a_line_break_is_refused_before_anything_is_sent(smtp: Script) -> None:
    with Post() as post:
        evil = EmailMessage("Hello\nBcc: all@example.org", "Body", "a@example.org", ["b@example.org"])
        assert post.hand_over(evil) == Handed(Outcome.REFUSED, "BadHeaderError")
        assert post.hand_over(message()).outcome is Outcome.SENT
    assert len(smtp.got) == 1


@pytest.mark.parametrize(
    ("fault", "outcome"),
    [
        (smtplib.SMTPRecipientsRefused({"a@example.org": (550, b"")}), Outcome.REFUSED),
        (smtplib.SMTPRecipientsRefused({"a@example.org": (452, b"")}), Outcome.NOT_NOW),
        (smtplib.SMTPSenderRefused(553, b"", "a@example.org"), Outcome.REFUSED),
        (smtplib.SMTPDataError(421, b""), Outcome.NOT_NOW),
        (smtplib.SMTPDataError(-1, b""), Outcome.NOT_NOW),
        (smtplib.SMTPServerDisconnected(), Outcome.NOT_NOW),
        (TimeoutError(), Outcome.NOT_NOW),
    ],
)
def test_what_a_fault_says_before_the_text_has_left(fault: Exception, outcome: Outcome) -> None:
    assert told(fault, text_left=False).outcome is outcome


@pytest.mark.parametrize("fault", [smtplib.SMTPServerDisconnected(), TimeoutError(), ConnectionResetError()])
def test_without_an_answer_after_the_text_has_left_nobody_knows(fault: Exception) -> None:
    assert told(fault, text_left=True).outcome is Outcome.UNCONFIRMED
