"""Where a second factor is asked for, nothing else opens before it is set up."""

from __future__ import annotations

import pytest
from allauth.mfa.models import Authenticator
from django.test import Client
from django.urls import reverse

from accounts.models import Person
from oneonone.models import Organisation
from tests.cast import NOW, ClientFor, assert_not_sees, assert_sees

SET_UP = "/account/2fa/"
ELSEWHERE = ("next", "lines", "settings", "cadence", "contacts", "account_email", "sessions")


@pytest.fixture
def organisation(db: None) -> Organisation:
    return Organisation.objects.create(
        name="Alder Quay Ferries", created_at=NOW, second_factor_for="administrators"
    )


def leads_to_set_up(client: Client, name: str) -> bool:
    answer = client.get(reverse(name))
    return answer.status_code == 302 and answer["Location"] == reverse("mfa_index")


@pytest.mark.parametrize("name", ELSEWHERE)
def test_an_administrator_without_one_is_led_to_set_it_up_from_every_page(
    name: str, organisation: Organisation, administrator: Person, client_for: ClientFor
) -> None:
    assert leads_to_set_up(client_for(administrator), name)


def test_the_page_there_says_why_and_the_ways_to_set_one_up_are_open(
    organisation: Organisation, administrator: Person, client_for: ClientFor
) -> None:
    client = client_for(administrator)
    assert_sees(client.get(reverse("mfa_index")), "A second factor is needed here")
    for name in ("mfa_activate_totp", "mfa_add_webauthn", "privacy", "account_logout"):
        assert client.get(reverse(name)).status_code == 200, name


def test_nothing_is_written_meanwhile(
    organisation: Organisation, administrator: Person, client_for: ClientFor
) -> None:
    form = {"second_factor_for": "nobody", "version": "1"}
    answer = client_for(administrator).post(reverse("server-settings"), form)
    assert answer["Location"] == reverse("mfa_index")
    organisation.refresh_from_db()
    assert organisation.second_factor_for == "administrators"


def test_a_partial_request_is_told_where_to_go(
    organisation: Organisation, administrator: Person, client_for: ClientFor
) -> None:
    answer = client_for(administrator).get(reverse("next"), headers={"HX-Request": "true"})
    assert (answer.status_code, answer["HX-Redirect"], answer.content) == (403, reverse("mfa_index"), b"")


@pytest.mark.parametrize("kind", ["totp", "webauthn"])
def test_with_one_everything_opens(
    kind: str, organisation: Organisation, administrator: Person, client_for: ClientFor
) -> None:
    Authenticator.objects.create(user=administrator, type=kind, data={})
    client = client_for(administrator)
    assert client.get(reverse("next")).status_code == 200
    assert_not_sees(client.get(reverse("privacy")), "A second factor is needed here")


def test_recovery_codes_alone_are_no_second_factor(
    organisation: Organisation, administrator: Person, client_for: ClientFor
) -> None:
    Authenticator.objects.create(
        user=administrator, type="recovery_codes", data={"seed": "x", "used_mask": 0}
    )
    assert leads_to_set_up(client_for(administrator), "next")


def test_others_are_asked_only_where_everybody_is(
    organisation: Organisation, report: Person, client_for: ClientFor
) -> None:
    client = client_for(report)
    assert client.get(reverse("next")).status_code == 200
    Organisation.objects.update(second_factor_for="everybody")
    assert leads_to_set_up(client, "next")
    Organisation.objects.update(second_factor_for="nobody")
    assert client.get(reverse("next")).status_code == 200


def test_before_the_server_is_set_up_nobody_is_asked(administrator: Person, client_for: ClientFor) -> None:
    assert client_for(administrator).get(reverse("next")).status_code == 200
