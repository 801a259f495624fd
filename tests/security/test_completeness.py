"""Nothing is served that the table does not know, and the table knows nothing that is not served."""

from __future__ import annotations

import pytest
from django.apps import apps
from django.contrib.staticfiles.views import serve
from django.core.checks import run_checks

from oneonone.models.base import PRIVATE, SHARED, SYSTEM
from oneonone.web import policy
from tests.security import routes
from tests.security.account_rows import ACCOUNT_ROWS
from tests.security.routes import Route
from tests.security.rows import DEMO_ROWS, ROWS
from tests.security.world import MISSING, TOKENS, make_world

# Views that declare no policy, each with the reason why that is so on purpose.
WITHOUT_POLICY = {
    "allauth.account": "signs people in; who reaches what stands in account_rows.py",
    "allauth.mfa": "second factors of the reader's own; stands in account_rows.py",
}
# Models of others, each with what it holds.
OF_OTHERS = {
    "account.EmailAddress": "the address a person signs in with",
    "account.EmailConfirmation": "unused: codes confirm addresses",
    "auth.Group": "unused: nothing is granted by groups",
    "auth.Permission": "unused: nothing is granted by permissions",
    "contenttypes.ContentType": "names of models",
    "mfa.Authenticator": "second factors, the secrets encrypted or hashed by allauth",
}


def missing_and_stale(served: list[Route], known: set[str]) -> tuple[set[str], set[str]]:
    keys = {route.key for route in served}
    return keys - known, known - keys


def test_every_route_has_a_row_and_every_row_a_route() -> None:
    ours = [route for route in routes.of_the_server() if route.ours]
    others = [route for route in routes.of_the_server() if not route.ours]
    assert missing_and_stale(ours, {row.key for row in ROWS}) == (set(), set())
    assert missing_and_stale(others, set(ACCOUNT_ROWS)) == (set(), set())
    assert missing_and_stale(routes.of_the_demo(), {row.key for row in DEMO_ROWS}) == (set(), set())


def test_a_route_without_a_row_and_a_row_without_a_route_are_noticed() -> None:
    served = [Route("line", ("line_id",), "lines/", serve), Route("new-view", (), "new/", serve)]
    assert missing_and_stale(served, {"line line_id", "gone"}) == ({"new-view"}, {"gone"})


def test_no_row_stands_twice_and_no_route_is_without_a_name() -> None:
    keys = [row.key for row in (*ROWS, *DEMO_ROWS)]
    assert len(keys) == len(set(keys))
    everything = [*routes.of_the_server(), *routes.of_the_demo()]
    assert [route.pattern for route in everything if not route.name] == []


def test_every_view_declares_its_policy_or_stands_on_the_list_with_a_reason() -> None:
    known = {value for value in vars(policy).values() if isinstance(value, policy.Policy)}
    undeclared = [
        f"{route.view.__module__}.{route.view.__name__}"
        for route in [*routes.of_the_server(), *routes.of_the_demo()]
        if getattr(route.view, "policy", None) not in known
        and not route.view.__module__.startswith(tuple(WITHOUT_POLICY))
    ]
    assert undeclared == []


def test_a_row_names_the_methods_that_its_view_declares() -> None:
    declared = {
        route.key: set(route.view.methods)  # type: ignore[attr-defined]
        for route in [*routes.of_the_server(), *routes.of_the_demo()]
        if route.ours
    }
    assert {row.key: set(row.methods) for row in (*ROWS, *DEMO_ROWS)} == declared


def test_every_model_says_whether_it_is_shared_private_or_of_the_system() -> None:
    ours = [model for model in apps.get_models() if model.__module__.startswith(("oneonone.", "accounts."))]
    said = {model.__name__: getattr(model, "privacy", None) for model in ours}
    assert {name for name, privacy in said.items() if privacy not in (SHARED, PRIVATE, SYSTEM)} == set()
    others = {model._meta.label for model in apps.get_models()} - {model._meta.label for model in ours}
    assert others == set(OF_OTHERS)


def test_every_id_in_an_address_has_a_thing_in_the_world(db: None) -> None:
    things = make_world().things
    asked = {row.kind for row in (*ROWS, *DEMO_ROWS) if row.id}
    assert asked - things.keys() == {"setup"}  # its link is a file, made beside the world
    named = {row.id for row in (*ROWS, *DEMO_ROWS) if row.id}
    in_addresses = {kwarg for route in routes.of_the_server() if route.ours for kwarg in route.kwargs}
    assert named == in_addresses
    assert str(MISSING) not in {str(thing.pk) for kind in things.values() for thing in kind}
    assert set(TOKENS) <= asked


def test_the_checks_of_the_framework_find_nothing() -> None:
    assert run_checks(include_deployment_checks=False) == []


@pytest.mark.parametrize("name", ["django.contrib.admin", "django.contrib.admindocs", "debug_toolbar"])
def test_no_application_is_installed_that_shows_rows_past_the_doors(name: str) -> None:
    assert not apps.is_installed(name)
