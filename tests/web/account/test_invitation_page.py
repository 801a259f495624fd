"""The page of an invitation: looking accepts nothing, and only the invited address gets in by it."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from typing import Any

import pytest
from allauth.account.models import EmailAddress
from django.contrib.auth.hashers import MD5PasswordHasher
from django.http import HttpResponseBase
from django.test import Client

from accounts.models import Invitation, Person
from accounts.services import invitations
from oneonone import clock
from oneonone.models import AuditEvent, Line, Side
from oneonone.services.lines import lines
from tests.cast import ClientFor, assert_not_sees, assert_same_bytes, assert_sees, body_of, queries
from tests.scene import QUARTERLY, make_line, make_topic
from tests.web.account.doorstep import PASSWORD, is_signed_in, sign_in
from tests.web.account.markup import forbidden

NEW = {"name": "Ada Brook", "password": PASSWORD, "zone": "Europe/London"}


@dataclass(frozen=True)
class Sent:
    """An invitation to be Ines's report, the line that waits for it, and its link."""

    invitation: Invitation
    line: Line
    page: str
    accept: str


@pytest.fixture
def sent(manager: Person, held_clock: dt.datetime) -> Sent:
    """Ines invites ada@example.org, who has no account yet."""
    return invite(manager, "ada@example.org", held_clock)


def invite(manager: Person, email: str, now: dt.datetime, side: Side = Side.REPORT) -> Sent:
    made = lines.create(
        actor=manager,
        now=now,
        today=now.date(),
        terms=QUARTERLY,
        manager=manager if side is Side.REPORT else None,
        report=manager if side is Side.MANAGER else None,
        invited=lines.Invited(name="Ada Brook", email=email, side=side),
    )
    assert made.token
    assert made.line.invitation
    return Sent(
        made.line.invitation,
        made.line,
        f"/invitations/{made.token}/",
        f"/invitations/{made.token}/accept/",
    )


def is_open(sent: Sent) -> bool:
    return Invitation.objects.get(pk=sent.invitation.pk).accepted_at is None


def test_it_says_who_invites_to_what(client: Client, sent: Sent) -> None:
    response = client.get(sent.page)
    assert_sees(response, "Ines Okafor invites you")
    assert_sees(response, "Ines Okafor is your manager and would like to meet you one to one")
    assert_sees(response, "ada@example.org")
    assert forbidden(body_of(response)) == []
    assert response["Cache-Control"] == "no-store"


def test_a_manager_is_told_that_a_report_invites_them(
    client: Client, report: Person, held_clock: dt.datetime
) -> None:
    upwards = invite(report, "ruth@example.org", held_clock, Side.MANAGER)
    assert_sees(client.get(upwards.page), "Tomas Lindqvist reports to you")


def test_looking_accepts_nothing_however_often(client: Client, sent: Sent) -> None:
    for method in (client.get, client.head, client.get):
        assert method(sent.page).status_code == 200
    assert is_open(sent)
    assert not Person.objects.with_address("ada@example.org").exists()


def test_a_visit_to_the_act_itself_is_refused(client: Client, sent: Sent) -> None:
    assert client.get(sent.accept).status_code == 405
    assert client.post(sent.page).status_code == 405
    assert is_open(sent)


def test_somebody_new_makes_an_account_and_is_on_the_line(client: Client, sent: Sent) -> None:
    response = client.post(sent.accept, NEW)
    made = Person.objects.get(email="ada@example.org")
    line = Line.objects.get(pk=sent.line.pk)
    assert (line.report, line.start) == (made, Line.Start.JOINED)
    assert (response.status_code, response["Location"]) == (302, f"/lines/{line.pk}/")
    assert is_signed_in(client)
    assert EmailAddress.objects.get(user=made).verified
    assert made.check_password(PASSWORD)
    acts = set(AuditEvent.objects.filter(actor=made).values_list("act", flat=True))
    assert {"account made", "line joined"} <= acts


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"name": ""}, "Enter something here."),
        ({"name": "Ada\u202eBrook"}, "without control characters"),
        ({"password": "fourteen chars"}, "at least 15 characters"),
        ({"password": "ada@example.org is me"}, "too similar"),
        ({"zone": "Europe/Alder"}, "Europe/Alder"),
    ],
)
def test_a_refused_form_keeps_what_was_typed_but_the_password(
    client: Client, sent: Sent, changed: dict[str, str], message: str
) -> None:
    response = client.post(sent.accept, NEW | {"name": "Ada of the Night Crew"} | changed)
    assert response.status_code == 422
    page = body_of(response)
    assert message in page
    assert ("Ada of the Night Crew" in page) or "name" in changed
    assert NEW["password"] not in page
    assert is_open(sent)
    assert not Person.objects.with_address("ada@example.org").exists()


def test_the_address_is_the_invitations_whatever_is_posted(client: Client, sent: Sent) -> None:
    client.post(sent.accept, NEW | {"email": "mallory@example.org", "is_administrator": "on"})
    made = Person.objects.get(email="ada@example.org")
    assert not made.is_administrator
    assert not Person.objects.with_address("mallory@example.org").exists()


def test_a_form_sent_twice_makes_one_account(client: Client, sent: Sent) -> None:
    client.post(sent.accept, NEW)
    again = Client().post(sent.accept, NEW)
    assert again.status_code == 410
    assert Person.objects.filter(email="ada@example.org").count() == 1


def test_somebody_with_an_account_signs_in_first_and_comes_back(
    client: Client, manager: Person, outsider: Person, held_clock: dt.datetime
) -> None:
    sent = invite(manager, outsider.email, held_clock)
    page = client.get(sent.page)
    assert_sees(page, "If you have an account here")
    assert f'name="next" value="{sent.page}"' in body_of(page)
    refused = client.post(sent.accept, NEW)
    assert refused.status_code == 422
    assert "This address already has an account." in body_of(refused)
    assert is_open(sent)


def as_bytes(response: HttpResponseBase, sent: Sent) -> tuple[int, str, str]:
    """An answer without what the two links differ in themselves: address, token, forms' tokens."""
    body = re.sub(r'name="csrfmiddlewaretoken" value="[^"]*"', "", body_of(response))
    for own in (sent.invitation.email, sent.page.split("/")[2]):
        body = body.replace(own, "OWN")
    return response.status_code, response.headers.get("Location", ""), body


def test_looking_at_the_link_does_not_tell_whether_its_address_has_an_account(
    manager: Person, outsider: Person, held_clock: dt.datetime
) -> None:
    """With a mail server and without: whoever has copied the link, or been sent it by mistake, may look."""
    answers, costs = [], []
    for email in (outsider.email, "ada@example.org"):
        sent = invite(manager, email, held_clock)
        with queries() as made:
            answers.append(as_bytes(Client().get(sent.page), sent))
        costs.append(len(made))
    assert answers[0] == answers[1]
    assert costs[0] == costs[1]


@pytest.mark.parametrize("typed", [{}, {"password": "fourteen chars"}, {"name": ""}, {"zone": "x"}])
def test_without_a_mail_server_neither_does_making_an_account(
    manager: Person, outsider: Person, held_clock: dt.datetime, settings: Any, typed: dict[str, str]
) -> None:
    settings.MAIL_CAN_LEAVE = False
    password = outsider.password
    answers = []
    for email in (outsider.email, "ada@example.org"):
        sent, browser = invite(manager, email, held_clock), Client()
        answer = browser.post(sent.accept, NEW | typed)
        after = browser.get(answer.headers.get("Location", "/account/login/"))
        answers.append((as_bytes(answer, sent), as_bytes(after, sent), sorted(browser.cookies)))
        assert not is_signed_in(browser)
    assert answers[0] == answers[1]
    assert answers[0][0][0] == (422 if typed else 302)
    outsider.refresh_from_db()
    assert outsider.password == password


def test_without_a_mail_server_making_an_account_costs_the_same_hash(
    manager: Person,
    outsider: Person,
    held_clock: dt.datetime,
    settings: Any,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The hash is nearly all of the time it takes."""
    settings.MAIL_CAN_LEAVE = False
    encode, hashed = MD5PasswordHasher.encode, []

    def counted(self: MD5PasswordHasher, password: str, salt: str) -> str:
        hashed.append(password)
        return encode(self, password, salt)

    monkeypatch.setattr(MD5PasswordHasher, "encode", counted)
    costs = []
    for email in (outsider.email, "ada@example.org"):
        hashed.clear()
        Client().post(invite(manager, email, held_clock).accept, NEW)
        costs.append(len(hashed))
    assert costs == [1, 1]


def test_without_a_mail_server_a_new_account_is_made_and_signed_in_to_as_a_step_of_its_own(
    client: Client, sent: Sent, settings: Any
) -> None:
    settings.MAIL_CAN_LEAVE = False
    answer = client.post(sent.accept, NEW)
    assert answer.headers["Location"] == "/account/login/"
    assert_sees(client.get("/account/login/"), "Sign in with your address now.")
    sign_in(client, "ada@example.org")
    assert is_signed_in(client)
    assert Line.objects.get(pk=sent.line.pk).report == Person.objects.get(email="ada@example.org")


def test_whoever_is_signed_in_with_the_address_accepts_with_one_act(
    client_for: ClientFor, manager: Person, outsider: Person, held_clock: dt.datetime
) -> None:
    sent = invite(manager, outsider.email.upper(), held_clock)
    client = client_for(outsider)
    assert_sees(client.get(sent.page), "Accept")
    response = client.post(sent.accept)
    assert response["Location"] == f"/lines/{sent.line.pk}/"
    assert Line.objects.get(pk=sent.line.pk).report == outsider


def test_somebody_else_who_has_the_link_gets_nothing(
    client_for: ClientFor,
    outsider: Person,
    superuser: Person,
    administrator: Person,
    manager: Person,
    sent: Sent,
) -> None:
    for person in (outsider, superuser, administrator, manager):
        client = client_for(person)
        assert_sees(client.get(sent.page), "You are signed in with another address")
        assert client.post(sent.accept, NEW).status_code == 422
    assert is_open(sent)
    assert Line.objects.get(pk=sent.line.pk).report is None


def test_an_address_that_is_not_verified_is_not_enough(
    client_for: ClientFor, outsider: Person, sent: Sent
) -> None:
    EmailAddress.objects.create(user=outsider, email="ada@example.org", verified=False)
    client = client_for(outsider)
    assert client.post(sent.accept).status_code == 422
    assert is_open(sent)


def test_claiming_an_address_does_not_keep_its_owner_out(
    client: Client, outsider: Person, sent: Sent
) -> None:
    EmailAddress.objects.create(user=outsider, email="ada@example.org", verified=False)
    assert client.post(sent.accept, NEW).status_code == 302
    ada = Person.objects.get(email="ada@example.org")
    verified = EmailAddress.objects.filter(email="ada@example.org", verified=True)
    assert [address.user for address in verified] == [ada]


def test_guard_off_the_address_would_not_matter(client_for: ClientFor, outsider: Person, sent: Sent) -> None:
    """The twin of the tests above: what lets in is the verified address and nothing else."""
    EmailAddress.objects.create(user=outsider, email="ada@example.org", verified=True)
    assert client_for(outsider).post(sent.accept).status_code == 302
    assert not is_open(sent)


def test_a_link_that_is_over_says_so_and_nothing_more(client: Client, sent: Sent, now: dt.datetime) -> None:
    clock.hold_at(now + dt.timedelta(days=7))
    response = client.get(sent.page)
    assert response.status_code == 410
    page = body_of(response)
    assert "This invitation can no longer be used" in page
    assert "ada@example.org" not in page
    assert client.post(sent.accept, NEW).status_code == 410


def test_withdrawn_and_sent_again_links_are_over(client: Client, sent: Sent, now: dt.datetime) -> None:
    token = invitations.resend(invitation=sent.invitation, now=now)
    assert client.get(sent.page).status_code == 404
    assert client.get(f"/invitations/{token}/").status_code == 200
    invitations.revoke(invitation=sent.invitation, now=now)
    assert client.get(f"/invitations/{token}/").status_code == 410


def test_a_link_never_sent_is_the_missing_page(
    client: Client, client_for: ClientFor, outsider: Person
) -> None:
    for token in ("nothing", "a" * 43, "../people", "%00", "x" * 3000):
        missing = client.get(f"/invitations/{token}/")
        assert_same_bytes(missing, client.get("/no/such/page/"))
    assert client_for(outsider).post("/invitations/nothing/accept/").status_code == 404


def test_a_second_line_for_the_pair_is_refused_and_the_invitation_stays(
    client_for: ClientFor, manager: Person, report: Person, held_clock: dt.datetime
) -> None:
    sent = invite(manager, report.email, held_clock)
    make_line(manager, report)
    response = client_for(report).post(sent.accept)
    assert response.status_code == 422
    assert "already have an open reporting line" in body_of(response)
    assert is_open(sent)


def test_an_ended_line_takes_its_invitation_along(
    client: Client, sent: Sent, manager: Person, now: dt.datetime
) -> None:
    lines.end(line=sent.line, actor=manager, now=now, today=now.date())
    assert client.get(sent.page).status_code == 410


def test_the_act_needs_the_token_against_forged_forms(sent: Sent) -> None:
    strict = Client(enforce_csrf_checks=True)
    assert strict.post(sent.accept, NEW).status_code == 403
    assert is_open(sent)


def test_no_content_of_the_line_shows_before_accepting(
    client: Client, sent: Sent, manager: Person, now: dt.datetime
) -> None:
    make_topic(sent.line, manager, "Crane slot at the Skerry pontoon", now=now)
    assert_not_sees(client.get(sent.page), "Crane slot")


def test_names_are_escaped(client: Client, manager: Person, held_clock: dt.datetime) -> None:
    Person.objects.filter(pk=manager.pk).update(name="<b>Ines</b>")
    manager.refresh_from_db()
    sent = invite(manager, "ada@example.org", held_clock)
    assert "<b>Ines</b>" not in body_of(client.get(sent.page))
