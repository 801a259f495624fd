"""A forgotten password on a server without mail: a link from an administrator, and what it does not do."""

from __future__ import annotations

import datetime as dt
import re
from io import StringIO
from typing import Any

import pytest
from allauth.mfa.models import Authenticator
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from accounts.models import Person
from accounts.services import password_links
from accounts.services.people import PasswordRefused
from oneonone import clock
from oneonone.models import AuditEvent, Notice
from oneonone.services.people import administration
from oneonone.services.people import password_links as passwordlinks
from oneonone.services.refusals import NotAllowed, NotNow, NotYourself
from tests.cast import ClientFor, assert_not_sees, assert_sees, body_of
from tests.web.account.doorstep import LOGIN, PASSWORD, is_signed_in, sign_in

NEW = "the ninth lamp is out again"


@pytest.fixture(autouse=True)
def no_mail(settings: Any) -> None:
    settings.MAIL_CAN_LEAVE = False


@pytest.fixture
def nils(administrator: Person, client_for: ClientFor) -> Client:
    """The administrator's browser; he has a password and has just given it."""
    administrator.set_password(PASSWORD)
    administrator.save()
    client = client_for(administrator)
    client.post("/account/reauthenticate/", {"password": PASSWORD})
    return client


def link_to(page: Any) -> str:
    found = re.search(r"http://localhost:8000(/new-password/[^/\s]+/)", body_of(page))
    assert found
    return found[1]


def made_for(person: Person, now: dt.datetime, issuer: Person | None = None) -> str:
    token = password_links.issue(person=person, issuer=issuer, now=now)
    return reverse("new-password", args=[token])


def test_an_administrator_makes_a_link_and_its_holder_signs_in_with_a_new_password(
    nils: Client, administrator: Person, tomas: Person, client: Client
) -> None:
    assert_sees(nils.get(reverse("account", args=[tomas.pk])), "Make a link for a new password")
    url = reverse("account-password", args=[tomas.pk])
    assert_sees(nils.get(url), "Make a link for Tomas Lindqvist to set a new password?")
    assert not AuditEvent.objects.filter(act="password link made").exists()
    page = nils.post(url)
    assert_sees(page, "Give this link to Tomas Lindqvist")
    link = link_to(page)
    assert_sees(client.get(link), tomas.email)
    answer = client.post(link, {"password": NEW}, follow=True)
    assert_sees(answer, "The new password is set")
    assert not is_signed_in(client)
    sign_in(client, tomas.email, NEW)
    assert is_signed_in(client)
    assert_sees(
        client.get("/"), "Your password was set with a link that Nils Haverkamp, an administrator, made."
    )
    noted = AuditEvent.objects.filter(act__startswith="password").order_by("act")
    assert [(event.act, event.actor, event.person) for event in noted] == [
        ("password link made", administrator, tomas),
        ("password set with a link", None, tomas),
    ]


def test_using_it_ends_every_session(tomas: Person, client: Client, client_for: ClientFor) -> None:
    open_here = client_for(tomas)
    assert open_here.get("/settings/").status_code == 200
    assert client.post(made_for(tomas, clock.now()), {"password": NEW}).status_code == 302
    assert open_here.get("/settings/").status_code == 302


def test_it_works_once(tomas: Person, client: Client) -> None:
    links = [made_for(tomas, clock.now()) for _ in range(2)]
    client.post(links[0], {"password": NEW})
    for link in links:
        assert client.get(link).status_code == 410
        answer = client.post(link, {"password": "an eleventh lamp is lit"})
        assert answer.status_code == 410
        assert "This link can no longer be used" in body_of(answer)
    tomas.refresh_from_db()
    assert tomas.check_password(NEW)
    assert Notice.objects.filter(kind="new_password", person=tomas).count() == 1


def test_of_two_who_hold_it_at_the_same_time_one_sets_the_password(tomas: Person) -> None:
    """Both have read it before either has used it."""
    now = clock.now()
    token = password_links.issue(person=tomas, issuer=None, now=now)
    first, second = (password_links.read(token, now=now) for _ in range(2))
    assert first
    assert second
    assert passwordlinks.use(link=first, password=NEW, now=now)
    assert not passwordlinks.use(link=second, password="an eleventh lamp is lit", now=now)
    tomas.refresh_from_db()
    assert tomas.check_password(NEW)


def test_looking_uses_nothing_up_and_a_weak_password_neither(tomas: Person, client: Client) -> None:
    link = made_for(tomas, clock.now())
    for _ in range(3):
        assert client.get(link).status_code == 200
    refused = client.post(link, {"password": "too short"})
    assert refused.status_code == 422
    assert "at least 15 characters" in body_of(refused).lower()
    read = password_links.read(link.split("/")[2], now=clock.now())
    assert read
    with pytest.raises(PasswordRefused):
        passwordlinks.use(link=read, password="too short", now=clock.now())
    assert client.post(link, {"password": NEW}).status_code == 302


def test_it_is_over_after_a_day_and_once_the_person_has_signed_in(
    tomas: Person, client: Client, now: dt.datetime
) -> None:
    token = password_links.issue(person=tomas, issuer=None, now=now)
    for hours, state in ((23, "open"), (24, "over")):
        link = password_links.read(token, now=now + dt.timedelta(hours=hours))
        assert link
        assert link.state.value == state
    sign_in(client, tomas.email)
    link = password_links.read(token, now=now)
    assert link
    assert link.state is password_links.State.OVER


@pytest.mark.parametrize("token", ["x", "x:y", "a:b:c", "", "é", "a" * 3000])
def test_a_link_that_was_not_made_here_is_a_missing_page(client: Client, db: None, token: str) -> None:
    assert client.get(f"/new-password/{token}/").status_code == 404
    assert password_links.read(token, now=clock.now()) is None


def test_a_changed_link_is_a_missing_page(client: Client, tomas: Person, administrator: Person) -> None:
    """Nobody makes one for somebody else out of their own."""
    own, others = (made_for(person, clock.now()).split("/")[2] for person in (tomas, administrator))
    mixed = f"{others.rpartition(':')[0]}:{own.rpartition(':')[2]}"
    assert client.get(f"/new-password/{mixed}/").status_code == 404


def test_a_second_factor_is_still_asked_for(tomas: Person, client: Client) -> None:
    Authenticator.objects.create(user=tomas, type="totp", data={"secret": "x"})
    client.post(made_for(tomas, clock.now()), {"password": NEW})
    answer = sign_in(client, tomas.email, NEW)
    assert answer["Location"] == reverse("mfa_authenticate")
    assert not is_signed_in(client)
    assert client.get("/").status_code == 302


def test_a_closed_account_gets_no_link_and_its_open_ones_end(
    tomas: Person, administrator: Person, client: Client, nils: Client
) -> None:
    link = made_for(tomas, clock.now())
    administration.deactivate(person=tomas, actor=administrator, now=clock.now())
    assert client.post(link, {"password": NEW}).status_code == 410
    answer = nils.post(reverse("account-password", args=[tomas.pk]), follow=True)
    assert_sees(answer, "An account that is open: open it again first.")
    with pytest.raises(NotNow):
        passwordlinks.issue(person=tomas, actor=None, now=clock.now())


def test_only_administrators_make_one_and_none_for_themselves(
    tomas: Person, administrator: Person, manager: Person
) -> None:
    with pytest.raises(NotAllowed):
        passwordlinks.issue(person=tomas, actor=manager, now=clock.now())
    with pytest.raises(NotYourself):
        passwordlinks.issue(person=administrator, actor=administrator, now=clock.now())
    assert not AuditEvent.objects.exists()


def test_where_mail_leaves_administrators_make_none(nils: Client, tomas: Person, settings: Any) -> None:
    settings.MAIL_CAN_LEAVE = True
    answer = nils.post(reverse("account-password", args=[tomas.pk]), follow=True)
    assert_sees(answer, "This server sends mail")
    assert not AuditEvent.objects.filter(act="password link made").exists()
    assert_not_sees(nils.get(reverse("account", args=[tomas.pk])), "Make a link for a new password")


def test_signing_in_offers_no_mailed_code_there(client: Client, db: None, settings: Any) -> None:
    page = client.get(LOGIN)
    assert_not_sees(page, "Mail me a code")
    assert_not_sees(page, reverse("account_reset_password"))
    assert_sees(page, "If you have forgotten your password, ask an administrator for a link")
    for name in ("account_request_login_code", "account_reset_password"):
        page = client.get(reverse(name))
        assert_sees(page, "This server sends no mail")
        assert_not_sees(page, "Mail me a code")
    settings.MAIL_CAN_LEAVE = True
    page = client.get(LOGIN)
    assert_sees(page, "Mail me a code")
    assert_sees(page, reverse("account_reset_password"))
    assert_not_sees(page, "If you have forgotten your password")


def test_the_page_about_privacy_names_this_limit(client: Client, db: None) -> None:
    assert_sees(
        client.get(reverse("privacy")), "an administrator can make a link that sets a new password for you"
    )


def test_the_command_prints_a_link_for_the_only_administrator_too(
    administrator: Person, client: Client
) -> None:
    said = StringIO()
    call_command("password_link", administrator.email.upper(), stdout=said)
    assert re.fullmatch(r"http://localhost:8000/new-password/\S+/\n", said.getvalue())
    client.post(said.getvalue().strip().removeprefix("http://localhost:8000"), {"password": NEW})
    sign_in(client, administrator.email, NEW)
    assert_sees(client.get("/"), "a link that was made on the server&#x27;s machine")
    made = AuditEvent.objects.get(act="password link made")
    assert (made.actor, made.person) == (None, administrator)
    with pytest.raises(CommandError, match="Nobody signs in with this address"):
        call_command("password_link", "nobody@example.org")
