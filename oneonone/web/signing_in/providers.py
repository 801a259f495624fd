"""Signing in at the organisation's OpenID Connect provider.

Whoever signs in there is known here by their subject (OpenID Connect Core 1.0 section 5.7), never by an
address. A subject comes to an account in two ways: somebody who is signed in connects it, or somebody new
accepts an invitation with it, if the provider vouches for the very address that was invited.
"""

from __future__ import annotations

import logging
import secrets
from collections.abc import Callable
from typing import Any

import requests
from allauth.core.exceptions import ImmediateHttpResponse
from allauth.socialaccount.adapter import DefaultSocialAccountAdapter
from allauth.socialaccount.providers.oauth2.client import OAuth2Error
from allauth.socialaccount.providers.openid_connect.provider import OpenIDConnectProvider
from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed
from django.shortcuts import render
from django.urls import Resolver404, resolve, reverse

from accounts import addresses
from accounts.models import Invitation
from accounts.refusals import Refusal
from accounts.services import invitations
from oneonone import clock
from oneonone.services.lines import joining
from oneonone.web.signing_in import provider_answer

log = logging.getLogger(__name__)
# What each is asked by. The library would begin signing in at any method but GET, also at those for which no
# token of a form is asked.
METHODS = {"openid_connect_login": ("GET", "POST"), "openid_connect_callback": ("GET",)}


class Provider(OpenIDConnectProvider):
    """The provider, asked with a nonce that its answer has to bring back (OpenID Connect Core 1.0, 3.1.2.1).

    It is kept with the state of the request, in the session of the browser that began.
    """

    def redirect(
        self, request: HttpRequest, process: Any, next_url: Any = None, data: Any = None, **kwargs: Any
    ) -> HttpResponse:
        """To the provider."""
        nonce = secrets.token_urlsafe(32)
        params = (kwargs.pop("auth_params", None) or self.get_auth_params()) | {"nonce": nonce}  # type: ignore[no-untyped-call]
        sent: HttpResponse = super().redirect(
            request, process, next_url, data, auth_params=params, nonce=nonce, **kwargs
        )
        return sent


class ProviderAdapter(DefaultSocialAccountAdapter):
    """What allauth asks about people who come from the provider."""

    def get_provider(self, request: HttpRequest, provider: str, client_id: str | None = None) -> Any:
        """Ours, in place of the library's."""
        found = super().get_provider(request, provider, client_id)
        return Provider(request, app=found.app) if isinstance(found, OpenIDConnectProvider) else found

    def is_open_for_signup(self, request: HttpRequest, sociallogin: Any) -> bool:
        """Closed: an account begins with an invitation."""
        return False

    def pre_social_login(self, request: HttpRequest, sociallogin: Any) -> None:
        """Let in who is known by their subject, and who is invited; tell everybody else how to become so."""
        try:
            provider_answer.check(sociallogin.account.extra_data, sociallogin.state.get("nonce"))
        except provider_answer.ForeignAnswer as fault:
            raise OAuth2Error(str(fault)) from None
        if sociallogin.is_existing or request.user.is_authenticated:
            return
        invitation = _invitation_of(sociallogin.state.get("next") or "")
        if invitation is None:
            raise ImmediateHttpResponse(_unknown(request, None))
        if addresses.normalise(invitation.email) not in _vouched_for(sociallogin):
            raise ImmediateHttpResponse(_unknown(request, invitation))
        try:
            joined = joining.accept_as_new(
                invitation=invitation,
                name=(sociallogin.user.name or invitation.name)[:120],
                password=None,
                zone=invitation.invited_by.zone,
                now=clock.now(),
            )
        except Refusal as refusal:
            raise ImmediateHttpResponse(_unknown(request, invitation, refusal)) from None
        sociallogin.connect(request, joined.person)
        sociallogin.state["next"] = reverse("line", args=[joined.line.pk]) if joined.line else reverse("next")

    def populate_user(self, request: HttpRequest, sociallogin: Any, data: dict[str, Any]) -> Any:
        """The name that the provider gives, and nothing else."""
        sociallogin.user.name = str(data.get("name") or "").strip()
        return sociallogin.user


def _invitation_of(place: str) -> Invitation | None:
    """The invitation whose page somebody came from, by the address to go on to."""
    try:
        match = resolve(place.partition("?")[0])
    except Resolver404:
        return None
    return invitations.by_token(match.kwargs["token"]) if match.url_name == "invitation" else None


def _vouched_for(sociallogin: Any) -> set[str]:
    """The addresses that the provider says it has verified."""
    return {addresses.normalise(row.email) for row in sociallogin.email_addresses if row.verified is True}


def _unknown(
    request: HttpRequest, invitation: Invitation | None, refusal: Refusal | None = None
) -> HttpResponse:
    context = {"invitation": invitation, "refusal": refusal}
    return render(request, "socialaccount/unknown.html", context, status=403)


class ProviderMiddleware:
    """Shows a page when the provider is unreachable, slow or answers wrongly, instead of a server error."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Nothing but when something is asked that should not be, or goes wrong."""
        return self.get_response(request)

    def process_view(self, request: HttpRequest, *view: object) -> HttpResponse | None:
        """Refuse other methods than those that signing in at a provider takes."""
        match = request.resolver_match
        allowed = METHODS.get(match.url_name or "") if match else None
        if allowed is None or request.method in allowed:
            return None
        return HttpResponseNotAllowed(allowed)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """Answer for the provider."""
        match = request.resolver_match
        if match is None or match.url_name not in METHODS:
            return None
        if not isinstance(exception, requests.RequestException | ValueError | KeyError):
            return None
        # Its text may hold an address with a code in it.
        log.warning("the OpenID Connect provider cannot be used: %s", type(exception).__name__)
        return render(request, "socialaccount/away.html", status=503)
