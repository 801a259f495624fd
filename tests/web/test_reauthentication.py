"""What matters asks again who one is: this list, held against every address that the server has."""

from __future__ import annotations

import pytest
from django.test import Client

from accounts.models import Person
from oneonone.models import Organisation
from tests.cast import NOW, ClientFor
from tests.security.routes import Route, of_the_server
from tests.web.account.doorstep import PASSWORD
from tests.web.test_headers import address_of

# ASVS 5.0, 7.5.1 and 7.5.2, and 8.4.2 for acts of administrators. By address and method; what is asked for
# somebody's account is asked for the administrator's own here, which comes to the same before the act.
ASKS_AGAIN = {
    # an account: closing, opening again, holding, erasing, second factors
    "account-close": {"GET", "POST"},
    "account-reopen": {"POST"},
    "account-factor": {"GET", "POST"},
    "account-password": {"GET", "POST"},
    "account-hold": {"POST"},
    "account-hold-lift": {"POST"},
    "account-erase": {"GET", "POST"},
    # what holds for everybody, the second factor that is asked for among it
    "server-settings": {"GET", "POST"},
    # how oneself signs in
    "account_email": {"POST"},
    "mfa_activate_totp": {"GET", "POST"},
    "mfa_generate_recovery_codes": {"GET", "POST"},
    "mfa_add_webauthn": {"GET", "POST"},
    "mfa_edit_webauthn": {"GET", "POST"},
    "mfa_remove_webauthn": {"GET", "POST"},
    "session-end": {"POST"},
}
# These ask for the present password itself, or can only be reached on the way of asking.
BY_THEMSELVES = {
    "account_change_password": "asks for the password one has",
    "mfa_reauthenticate": "is how one shows who one is",
    "mfa_reauthenticate_webauthn": "is how one shows who one is",
}
DATA = {"account_email": {"action_add": "", "email": "new@quay.example"}}


@pytest.fixture
def nils(administrator: Person, client_for: ClientFor) -> Client:
    """The administrator, who signed in a while ago."""
    Organisation.objects.create(name="Alder Quay Ferries", created_at=NOW)
    administrator.set_password(PASSWORD)
    administrator.save()
    return client_for(administrator)


def asked(client: Client, route: Route, method: str, person: Person) -> bool:
    """Whether this address asks who one is before anything else."""
    path = address_of(route).replace("0a1b2c3d-0000-4000-8000-000000000001", str(person.pk))
    data = DATA.get(route.name, {}) if method == "POST" else {}
    answer = client.post(path, data) if method == "POST" else client.get(path)
    return answer.status_code == 302 and answer["Location"].startswith("/account/reauthenticate/")


def test_what_matters_asks_and_nothing_else_does(nils: Client, administrator: Person) -> None:
    found: dict[str, set[str]] = {}
    for route in of_the_server():
        for method in ("GET", "POST"):
            if route.name == "account_logout" or route.name in BY_THEMSELVES:
                continue
            if asked(nils, route, method, administrator):
                found.setdefault(route.name, set()).add(method)
    assert found == ASKS_AGAIN


def test_whoever_has_just_shown_it_is_not_asked(nils: Client, administrator: Person) -> None:
    nils.post("/account/reauthenticate/", {"password": PASSWORD})
    for route in of_the_server():
        if route.name in ASKS_AGAIN and route.name != "session-end":
            assert not asked(nils, route, "GET", administrator), route.name


def test_a_wrong_password_does_not_count(nils: Client, administrator: Person) -> None:
    nils.post("/account/reauthenticate/", {"password": "seven lamps on a short quay"})
    close = next(route for route in of_the_server() if route.name == "account-close")
    assert asked(nils, close, "GET", administrator)


def test_signing_in_alone_is_no_answer_for_ever(nils: Client, administrator: Person) -> None:
    """What was shown counts for some minutes: a session that is left open is not enough."""
    nils.post("/account/reauthenticate/", {"password": PASSWORD})
    session = nils.session
    for record in session["account_authentication_methods"]:
        record["at"] -= 301
    session.save()
    close = next(route for route in of_the_server() if route.name == "account-close")
    assert asked(nils, close, "GET", administrator)
