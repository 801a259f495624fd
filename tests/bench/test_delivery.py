"""Delivering digests that are owed, beside a bare loop that sends the same bytes to the same server.

The floor does only what any sender must: one kept connection, one conversation a mail. The figure is the
share of the floor's pace that is kept when each mail is also claimed, looked at again, written in two forms
and settled. The server runs in this process, so both pay for it. Turns alternate, and the best of each
counts.
"""

from __future__ import annotations

import datetime as dt
import smtplib
import sys
from collections.abc import Iterator
from time import perf_counter
from uuid import uuid4

import pytest
from django.conf import settings as configured
from pytest_django import Settings

from accounts.models import Person
from oneonone.mail.delivery import deliver_one
from oneonone.mail.post import Post
from oneonone.models import Line, Mail, Notice
from oneonone.services.notices import mails
from tests.mail.server import Script, running

MAILS = 150
TURNS = 3
LEAST_SHARE = 0.08


@pytest.fixture
def server(settings: Settings) -> Iterator[Script]:
    script = Script()
    with running(script) as port:
        settings.MAIL_CAN_LEAVE = True
        settings.EMAIL_BACKEND = "oneonone.mail.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", port
        settings.EMAIL_USE_TLS = settings.EMAIL_USE_SSL = False
        yield script


def owe(people: list[Person], line: Line, now: dt.datetime) -> None:
    """One digest for each person, with one notice in it."""
    Mail.objects.all().delete()
    Notice.objects.all().delete()
    Notice.objects.bulk_create(
        Notice(kind="joined", person=person, subject=uuid4(), line=None, owed_at=now) for person in people
    )
    list(mails.GATHER.each(now, most=MAILS))
    Mail.objects.update(not_before=now)


def deliver(now: dt.datetime) -> float:
    began = perf_counter()
    with Post() as post:
        while deliver_one(now, post=post):
            pass
    return MAILS / (perf_counter() - began)


def send_bare(raw: list[bytes]) -> float:
    began = perf_counter()
    with smtplib.SMTP(configured.EMAIL_HOST, configured.EMAIL_PORT) as connection:
        for content in raw:
            connection.sendmail("one-on-ones@example.org", ["ines@example.org"], content)
    return len(raw) / (perf_counter() - began)


@pytest.mark.django_db
def test_the_pace_of_delivery_beside_a_bare_loop(
    server: Script, line: Line, now: dt.datetime, capsys: pytest.CaptureFixture[str]
) -> None:
    people = Person.objects.bulk_create(
        Person(email=f"p{number}@example.org", name=f"Person {number}", password="!", date_joined=now)
        for number in range(MAILS)
    )
    ours, floor = [], []
    for _turn in range(TURNS):
        owe(people, line, now)
        server.raw.clear()
        ours.append(deliver(now))
        assert Mail.objects.filter(state="sent").count() == len(server.raw) == MAILS
        floor.append(send_bare(list(server.raw)))
    share = max(ours) / max(floor)
    with capsys.disabled():
        sys.stdout.write(f"\n{max(ours):.0f} mails/s, floor {max(floor):.0f} mails/s, share {share:.2f}\n")
    assert share >= LEAST_SHARE
