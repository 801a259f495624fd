"""How many passwords may be refused: few, and no stranger locks the owner out."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client

from accounts.models import Person
from oneonone.web.signing_in import devices
from tests.cast import assert_not_sees, assert_sees, body_of
from tests.web.account.doorstep import PASSWORD, is_signed_in, sign_in
from tests.web.account.post import code_in, owed

WRONG = "seven lamps on a short quay"
TOO_MANY = "Too many tries in a short time"
THIS_HOUR = "Too many tries for this address. Wait an hour"
STRANGER, OTHER_PLACE = "192.0.2.7", "198.51.100.9"  # RFC 5737


@pytest.fixture
def ines(manager: Person) -> Person:
    """Somebody else with a password."""
    manager.set_password(PASSWORD)
    manager.save()
    return manager


def from_place(address: str) -> Client:
    """A new browser at another network origin."""
    return Client(REMOTE_ADDR=address)


def known_device(person: Person) -> Client:
    """A browser that this person has signed in with, and out again."""
    browser = Client()
    sign_in(browser, person.email)
    browser.post("/account/logout/")
    assert not is_signed_in(browser)
    return browser


def test_ten_refused_passwords_for_an_address_and_place_are_the_most(tomas: Person) -> None:
    place = from_place(STRANGER)
    for _ in range(10):
        assert_not_sees(sign_in(place, tomas.email, WRONG), TOO_MANY)
    assert_sees(sign_in(place, tomas.email), f"{TOO_MANY}. Wait five minutes")
    assert not is_signed_in(place)


def test_a_stranger_elsewhere_does_not_keep_the_owner_out(tomas: Person) -> None:
    stranger = from_place(STRANGER)
    for _ in range(20):
        sign_in(stranger, tomas.email, WRONG)
    owner = from_place(OTHER_PLACE)
    sign_in(owner, tomas.email)
    assert is_signed_in(owner)


def test_many_strangers_keep_out_who_comes_with_a_new_device_and_nobody_else(tomas: Person) -> None:
    """A hundred an hour for one address, wherever they come from."""
    device = known_device(tomas)
    for number in range(100):
        sign_in(from_place(f"192.0.2.{number}"), tomas.email, WRONG)
    new = from_place(OTHER_PLACE)
    assert_sees(sign_in(new, tomas.email), THIS_HOUR)
    assert not is_signed_in(new)
    sign_in(device, tomas.email)
    assert is_signed_in(device)


def test_a_stranger_behind_the_same_address_does_not_keep_out_a_device_that_was_here_before(
    tomas: Person,
) -> None:
    device, neighbour = known_device(tomas), Client()
    for number in range(40):
        sign_in(neighbour, tomas.email if number % 2 else f"guess{number}@example.org", WRONG)
    assert_sees(sign_in(Client(), tomas.email), TOO_MANY)
    sign_in(device, tomas.email)
    assert is_signed_in(device)


def test_a_device_that_was_here_before_is_no_licence_to_guess_for_ever(tomas: Person) -> None:
    device = known_device(tomas)
    for _ in range(100):
        assert_not_sees(sign_in(device, tomas.email, WRONG), "Too many tries")
    assert_sees(sign_in(device, tomas.email), THIS_HOUR)


def test_a_device_of_one_person_is_any_device_to_another(tomas: Person, ines: Person) -> None:
    device = known_device(ines)
    for _ in range(10):
        sign_in(device, tomas.email, WRONG)
    assert_sees(sign_in(device, tomas.email), TOO_MANY)


@pytest.mark.parametrize("cookie", ["", "x", "W10:1x:x", '["a","b"]', "a" * 5000])
def test_a_forged_cookie_makes_no_known_device(tomas: Person, cookie: str) -> None:
    place = from_place(STRANGER)
    place.cookies["device"] = cookie
    for _ in range(10):
        sign_in(place, tomas.email, WRONG)
    assert_sees(sign_in(place, tomas.email), TOO_MANY)


def test_a_shared_device_knows_several_people_and_stays_one_device(tomas: Person, ines: Person) -> None:
    browser = Client()
    names = []
    for person in (tomas, ines, tomas):
        response = sign_in(browser, person.email)
        request = response.wsgi_request
        request.COOKIES["device"] = browser.cookies["device"].value
        device = devices.device_of(request)
        assert device is not None
        names.append(device.name)
        browser.post("/account/logout/")
    assert len(set(names)) == 1
    assert device
    assert device.people == (str(ines.pk), str(tomas.pk))


def test_whoever_is_signed_in_can_show_again_who_they_are_whatever_strangers_do(
    tomas: Person, client: Client
) -> None:
    sign_in(client, tomas.email)
    del client.cookies["device"]
    for number in range(110):
        sign_in(from_place(f"192.0.2.{number}"), tomas.email, WRONG)
    new = {"password1": "the ninth lamp is out", "password2": "the ninth lamp is out"}
    client.post("/account/reauthenticate/", {"password": PASSWORD})
    client.post("/account/password/change/", {"oldpassword": PASSWORD, **new})
    tomas.refresh_from_db()
    assert tomas.check_password("the ninth lamp is out")


def test_a_good_sign_in_between_refused_ones_forgives_none(tomas: Person) -> None:
    place = from_place(STRANGER)
    for _ in range(9):
        sign_in(place, tomas.email, WRONG)
    sign_in(from_place(STRANGER), tomas.email)
    sign_in(place, tomas.email, WRONG)
    assert_sees(sign_in(from_place(STRANGER), tomas.email), TOO_MANY)


def test_spellings_of_one_address_are_counted_as_one(tomas: Person) -> None:
    place = from_place(STRANGER)
    for number in range(10):
        sign_in(place, tomas.email.upper() if number % 2 else f" {tomas.email} ", WRONG)
    assert_sees(sign_in(place, tomas.email), TOO_MANY)


def test_a_password_set_with_a_mailed_code_ends_the_wait(tomas: Person) -> None:
    place = from_place(STRANGER)
    for _ in range(11):
        sign_in(place, tomas.email, WRONG)
    place.post("/account/password/reset/", {"email": tomas.email})
    place.post("/account/password/reset/confirm/", {"code": code_in(owed()[-1])})
    new = {"password1": "the ninth lamp is out", "password2": "the ninth lamp is out"}
    answer = place.post("/account/password/reset/complete/", new)
    assert answer.status_code == 302, body_of(answer)
    sign_in(place, tomas.email, "the ninth lamp is out")
    assert is_signed_in(place)


def test_a_mailed_code_is_named_as_a_way_out_only_where_mail_leaves(tomas: Person, settings: Any) -> None:
    settings.MAIL_CAN_LEAVE = True
    place = from_place(STRANGER)
    for _ in range(11):
        answer = sign_in(place, tomas.email, WRONG)
    assert_sees(answer, "Wait five minutes, or have a code mailed to you.")
    settings.MAIL_CAN_LEAVE = False
    answer = sign_in(place, tomas.email, WRONG)
    assert_sees(answer, "Wait five minutes, then try again.")
    assert_not_sees(answer, "mailed to you")
