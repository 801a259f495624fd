"""Mails that were not sent are shown to administrators, without what they said, until one has looked."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from accounts.models import Person
from oneonone.models import AuditEvent, Mail
from tests.cast import ClientFor, assert_not_sees, assert_same_bytes, assert_sees, queries

State = Mail.State


@pytest.fixture
def mail(report: Person, now: dt.datetime) -> Mail:
    """A mail to Tomas of which nobody knows whether it arrived."""
    return undelivered(report, now, State.UNKNOWN, 0)


def undelivered(person: Person, now: dt.datetime, state: str, number: int) -> Mail:
    return Mail.objects.create(
        kind=Mail.Kind.ACCOUNT,
        person=person,
        to_address=person.email,
        subject="Seven lamps",
        state=state,
        error="550",
        attempts=2,
        message_id=f"<{number}@example.org>",
        not_before=now - dt.timedelta(hours=number),
        created_at=now,
    )


def test_it_says_to_whom_and_what_became_of_it_and_nothing_of_what_it_said(
    mail: Mail, report: Person, now: dt.datetime, administrator: Person, client_for: ClientFor
) -> None:
    undelivered(report, now, State.FAILED, 1)
    page = client_for(administrator).get(reverse("mails"))
    for said in ("Tomas Lindqvist", report.email, "about the account", "not known whether it arrived"):
        assert_sees(page, said)
    assert_sees(page, "refused after 2 attempts")
    assert_not_sees(page, "Seven lamps")


def test_looked_at_it_is_off_the_list_and_of_the_count_and_not_sent_again(
    mail: Mail, administrator: Person, client_for: ClientFor, now: dt.datetime
) -> None:
    client = client_for(administrator)
    assert_sees(client.get(reverse("people")), "Show them")
    for _time in range(2):
        client.post(reverse("mail-looked-at", args=[mail.pk]))
    assert_sees(client.get(reverse("mails")), "No such mails")
    assert_not_sees(client.get(reverse("people")), "Show them")
    mail.refresh_from_db()
    assert (mail.state, mail.looked_at) == (State.UNKNOWN, now)
    assert AuditEvent.objects.filter(act="mail looked at", subject=mail.pk).count() == 1
    assert_sees(
        client.get(reverse("audit")), "removed a mail from the list of mails that may not have arrived"
    )


@pytest.mark.parametrize("state", [State.SENT, State.QUEUED, State.CLAIMED, State.SENDING, State.CANCELLED])
def test_a_mail_in_any_other_state_is_not_on_the_list_and_cannot_be_looked_at(
    state: str, report: Person, now: dt.datetime, administrator: Person, client_for: ClientFor
) -> None:
    mail, client = undelivered(report, now, state, 0), client_for(administrator)
    assert_not_sees(client.get(reverse("mails")), report.email)
    assert client.post(reverse("mail-looked-at", args=[mail.pk])).status_code == 404


@pytest.mark.parametrize("who", ["manager", "report", "staff", "superuser", "outsider"])
def test_to_everybody_else_it_does_not_exist(
    mail: Mail, who: str, request: pytest.FixtureRequest, client_for: ClientFor
) -> None:
    client = client_for(request.getfixturevalue(who))
    assert_same_bytes(client.get(reverse("mails")), client.get("/nothing/here/"))
    client.post(reverse("mail-looked-at", args=[mail.pk]))
    mail.refresh_from_db()
    assert mail.looked_at is None


def test_twice_the_mails_cost_no_more_queries(
    mail: Mail, report: Person, now: dt.datetime, administrator: Person, client_for: ClientFor
) -> None:
    client = client_for(administrator)
    client.get(reverse("mails"))
    with queries() as few:
        client.get(reverse("mails"))
    for number in range(1, 6):
        undelivered(report, now, State.FAILED, number)
    with queries() as many:
        client.get(reverse("mails"))
    assert len(few) == len(many)
