"""What a server with a provider of OpenID Connect serves beside the rest; run by ``test_provider_routes.py``.

Its name keeps it out of the usual run, whose server has no provider and so none of these addresses.
"""

from __future__ import annotations

from urllib.parse import parse_qs, urlsplit

import pytest
from allauth.socialaccount.models import SocialAccount
from django.apps import apps
from django.conf import settings

from tests.security import account_matrix, routes, tables
from tests.security.account_rows import ACCOUNT_ROWS, PROVIDER_ROWS
from tests.security.browser import Browser
from tests.security.matrix import ACTORS, Matrix, undone, unlogged
from tests.security.world import PASSWORD

pytestmark = pytest.mark.django_db
BEGIN, CONNECTIONS = "/account/oidc/organisation/login/", "/account/3rdparty/"


def test_every_route_of_the_provider_has_a_row_and_every_row_a_route() -> None:
    served = {route.name or f"/{route.pattern}" for route in routes.of_the_server() if not route.ours}
    assert {name for name, _path in PROVIDER_ROWS} == served - {key.split()[0] for key in ACCOUNT_ROWS}


@pytest.mark.parametrize("row", PROVIDER_ROWS, ids=lambda row: row[1])
def test_each_cell_is_as_the_table_says(counted: Matrix, row: tuple[str, str]) -> None:
    name, path = row
    assert account_matrix.run(counted, PROVIDER_ROWS[row], name, path) == []


@pytest.mark.parametrize("key", ["account_login", "account_email", "mfa_index"])
def test_the_pages_about_signing_in_answer_as_without_a_provider(counted: Matrix, key: str) -> None:
    path = next("/" + route.pattern for route in routes.of_the_server() if route.key == key)
    assert account_matrix.run(counted, ACCOUNT_ROWS[key], key, path) == []


def test_signing_in_there_begins_with_the_token_of_a_form_alone(matrix: Matrix) -> None:
    assert settings.PROVIDER
    issuer = urlsplit(settings.PROVIDER.issuer)
    for actor in ACTORS:
        with undone(), unlogged():
            began = matrix.browsers[actor].ask("POST", BEGIN, {})
            checked = Browser(matrix.browsers[actor].cookies, checks_csrf=True)
            assert checked.ask("POST", BEGIN, {}).status == 403
        target = urlsplit(began.header("Location"))
        assert (target.scheme, target.netloc) == (issuer.scheme, issuer.netloc)
        asked = parse_qs(target.query)
        assert asked["code_challenge_method"] == ["S256"]
        assert asked["redirect_uri"] == [f"http://localhost{BEGIN}callback/"]
        assert asked["state"]
        assert asked["nonce"]


def test_somebody_elses_connection_is_as_good_as_missing(matrix: Matrix) -> None:
    """The one id that a form about the provider takes."""
    browser = matrix.browsers["administrator"]
    with undone(), unlogged():
        theirs = SocialAccount._default_manager.create(
            user=matrix.world.people["report"], provider="organisation", uid="s-tomas"
        )
        mine = SocialAccount._default_manager.create(
            user=matrix.world.people["administrator"], provider="organisation", uid="s-nils"
        )
        browser.ask("POST", "/account/reauthenticate/", {"password": PASSWORD})
        before = tables.sums()
        hidden, missing = (
            browser.ask("POST", CONNECTIONS, {"account": pk}) for pk in (theirs.pk, mine.pk + theirs.pk)
        )
        assert (hidden.status, len(hidden.statements)) == (missing.status, len(missing.statements))
        assert tables.changed(before, tables.sums()) == []
        assert browser.ask("POST", CONNECTIONS, {"account": mine.pk}).status == 302
        assert list(SocialAccount._default_manager.all()) == [theirs]


def test_its_models_hold_who_is_whom_at_the_provider_and_no_words() -> None:
    models = apps.get_app_config("socialaccount").get_models()
    assert {model.__name__ for model in models} == {"SocialAccount", "SocialApp", "SocialToken"}
