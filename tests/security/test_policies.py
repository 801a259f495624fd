"""No page is served without a policy, and no policy is kept for a page that is gone."""

from __future__ import annotations

from collections.abc import Iterator
from uuid import UUID

import pytest
from allauth.mfa.models import Authenticator
from django.http import HttpRequest, HttpResponse
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, path, reverse

from accounts.models import Person
from oneonone.web.policy import PUBLIC, SIGNED_IN, Policy
from oneonone.web.signing_in.policies import POLICIES
from tests.cast import ClientFor

ROW = UUID("0a1b2c3d-0000-4000-8000-000000000001")


def patterns(resolver: URLResolver) -> Iterator[URLPattern]:
    for entry in resolver.url_patterns:
        if isinstance(entry, URLResolver):
            yield from patterns(entry)
        else:
            yield entry


def policy_of(pattern: URLPattern) -> Policy | None:
    declared: Policy | None = getattr(pattern.callback, "policy", None)
    return declared or POLICIES.get(pattern.name or "")


def methods_of(pattern: URLPattern) -> tuple[str, ...]:
    declared: tuple[str, ...] = getattr(pattern.callback, "methods", ())
    return declared


def without_policy(found: Iterator[URLPattern]) -> list[str]:
    return [str(pattern.pattern) for pattern in found if policy_of(pattern) is None]


def ours() -> list[URLPattern]:
    return [pattern for pattern in patterns(get_resolver()) if hasattr(pattern.callback, "policy")]


def address_of(pattern: URLPattern) -> str:
    """An address of this page with ids that belong to nothing."""
    values = {name: "nothing" if name == "token" else ROW for name in pattern.pattern.converters}
    return reverse(pattern.name or "", kwargs=values)


def test_every_route_has_a_policy() -> None:
    assert without_policy(patterns(get_resolver())) == []


def test_a_new_route_without_one_would_be_found() -> None:
    def undeclared(request: HttpRequest) -> HttpResponse:
        return HttpResponse()

    assert without_policy(iter([path("new/", undeclared, name="new")])) == ["new/"]


def test_every_route_has_a_name() -> None:
    assert [str(pattern.pattern) for pattern in patterns(get_resolver()) if not pattern.name] == []


def test_every_policy_kept_for_allauth_has_its_page() -> None:
    named = {pattern.name for pattern in patterns(get_resolver())}
    assert set(POLICIES) - named == set()


@pytest.mark.parametrize("name", sorted(POLICIES))
def test_allauth_lets_in_whom_its_policy_says(name: str, client: Client, db: None) -> None:
    """What takes signing in sends nobody further than there; the ways in are open or lead to another."""
    kwargs = {"pk": 1} if name in ("mfa_edit_webauthn", "mfa_remove_webauthn") else {}
    for answer in (client.get(reverse(name, kwargs=kwargs)), client.post(reverse(name, kwargs=kwargs))):
        to_sign_in = answer.status_code == 302 and answer["Location"].startswith("/account/login/?next=")
        assert to_sign_in is (POLICIES[name] is SIGNED_IN), f"{answer.status_code} {answer.get('Location')}"


def test_pages_of_ours_that_take_signing_in_say_so_to_nobody(client: Client, db: None) -> None:
    for pattern in ours():
        declared = policy_of(pattern)
        assert declared is not None
        for method in methods_of(pattern):
            answer = client.generic(method, address_of(pattern))
            to_sign_in = answer.status_code == 302 and answer["Location"].startswith("/account/login/")
            assert to_sign_in is (declared is not PUBLIC), f"{method} {pattern.name}: {answer.status_code}"


def test_no_method_is_answered_that_is_not_declared(client_for: ClientFor, outsider: Person) -> None:
    client = client_for(outsider)
    for pattern in ours():
        for method in {"GET", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"} - set(methods_of(pattern)):
            answer = client.generic(method, address_of(pattern))
            assert answer.status_code == 405, f"{method} {pattern.name}: {answer.status_code}"


def test_rows_that_are_not_there_are_missing_to_everybody(
    client_for: ClientFor, outsider: Person, administrator: Person, superuser: Person
) -> None:
    for person in (outsider, administrator, superuser):
        client = client_for(person)
        missing = client.get("/no/such/page/").content
        for pattern in ours():
            if not pattern.pattern.converters:
                continue
            for method in methods_of(pattern):
                answer = client.generic(method, address_of(pattern))
                assert (answer.status_code, answer.content) == (404, missing), f"{method} {pattern.name}"


def test_somebody_elses_passkey_is_as_missing_as_none(
    client_for: ClientFor, outsider: Person, report: Person
) -> None:
    theirs = Authenticator.objects.create(
        user=report, type=Authenticator.Type.WEBAUTHN, data={"name": "Harbour"}
    )
    client = client_for(outsider)
    for name in ("mfa_edit_webauthn", "mfa_remove_webauthn"):
        for pk in (theirs.pk, theirs.pk + 1):
            for answer in (client.get(reverse(name, args=[pk])), client.post(reverse(name, args=[pk]))):
                assert answer.status_code in (302, 404)
                assert b"Harbour" not in answer.content
    assert Authenticator.objects.filter(pk=theirs.pk).exists()
