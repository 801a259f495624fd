"""Redirects people who need a second factor and have none to the page that sets one up."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect
from django.urls import reverse

from oneonone.selectors.people import organisation

# What it takes to set one up or to leave, and the page that says what is kept of oneself.
OPEN_MEANWHILE = frozenset(
    {
        "account_logout",
        "account_reauthenticate",
        "mfa_index",
        "mfa_activate_totp",
        "mfa_list_webauthn",
        "mfa_add_webauthn",
        "mfa_reauthenticate",
        "mfa_reauthenticate_webauthn",
        "privacy",
    }
)


class SecondFactorMiddleware:
    """Holds people to the setting of the organisation, from the next request on after it was changed."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Everything happens once the address is known."""
        return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: Callable[..., Any], args: Any, kwargs: Any
    ) -> HttpResponseBase | None:
        """Lead to the page of second factors; partial requests are told to go there."""
        if not request.user.is_authenticated or not organisation.lacks_second_factor(request.user):
            return None
        request.second_factor_lacking = True  # type: ignore[attr-defined]  # read by the page of factors
        match = request.resolver_match
        if match is not None and match.url_name in OPEN_MEANWHILE:
            return None
        place = reverse("mfa_index")
        if request.headers.get("HX-Request") == "true":
            return HttpResponse(status=403, headers={"HX-Redirect": place})
        return redirect(place)
