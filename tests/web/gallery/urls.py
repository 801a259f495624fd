"""Addresses the gallery's links lead to: the names the base templates ask for, and nothing behind them."""

from django.http import HttpRequest, HttpResponse
from django.urls import path

NAMES = (
    "next",
    "lines",
    "commitments",
    "logbook",
    "logbook-add",
    "keys",
    "cadence",
    "people",
    "settings",
    "contacts",
    "privacy",
    "account_logout",
    "demo-move-on",
    "demo-mail",
)


def nothing(request: HttpRequest) -> HttpResponse:
    return HttpResponse()


urlpatterns = [path("" if name == "next" else f"{name}/", nothing, name=name) for name in NAMES]
