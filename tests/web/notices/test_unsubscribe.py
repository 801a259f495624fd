"""Turning notices by mail off from a link in a mail, by a person or by their mail program."""

from __future__ import annotations

import pytest
from django.core import signing
from django.test import Client
from django.urls import reverse

from accounts.models import Person
from oneonone.models import AuditEvent
from oneonone.services.notices import mail_wishes

pytestmark = pytest.mark.django_db
ONE_CLICK = {"List-Unsubscribe": "One-Click"}


def link(person: Person) -> str:
    return reverse("unsubscribe", args=[mail_wishes.token_for(person)])


def wants_mail(person: Person) -> bool:
    person.refresh_from_db()
    return person.wants_mail


def test_looking_changes_nothing_since_mail_scanners_open_links(report: Person) -> None:
    page = Client().get(link(report))
    assert page.status_code == 200
    assert "Stop the mails" in page.content.decode()
    assert wants_mail(report)


def test_a_mail_program_posts_without_a_cookie_and_twice_is_once(report: Person) -> None:
    """RFC 8058, section 3.2: no cookies, no other context than the link."""
    program = Client(enforce_csrf_checks=True)
    for _time in range(2):
        assert program.post(link(report), ONE_CLICK).status_code == 200
    assert not wants_mail(report)
    assert AuditEvent.objects.filter(person=report, act="profile changed").count() == 1


def test_it_is_the_one_of_the_link_whoever_is_signed_in(report: Person, manager: Person) -> None:
    client = Client()
    client.force_login(manager)
    client.post(link(report), ONE_CLICK)
    assert not wants_mail(report)
    assert wants_mail(manager)


@pytest.mark.parametrize("salt", ["", "another purpose"])
def test_a_link_not_made_for_this_is_as_good_as_none(report: Person, salt: str) -> None:
    token = signing.dumps(report.pk.hex, salt=salt) if salt else report.pk.hex
    answer = Client().post(reverse("unsubscribe", args=[token]), ONE_CLICK)
    assert answer.status_code == 404
    assert wants_mail(report)


def test_the_settings_say_when_and_of_what(report: Person) -> None:
    client = Client()
    client.force_login(report)
    page = client.get(reverse("settings")).content.decode()
    assert "At most one mail of reminders a day" in page
    answer = client.post(reverse("settings-mail"), {"digest_at": "17:30", "mail_of": ["today", "answers"]})
    assert answer.status_code == 302
    assert 'value="17:30"' in client.get(reverse("settings")).content.decode()
    refused = client.post(reverse("settings-mail"), {"digest_at": "half past", "mail_of": ["today"]})
    assert refused.status_code == 422
    assert "half past" in refused.content.decode()
