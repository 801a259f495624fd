"""Addresses of the page of one's own sessions."""

from __future__ import annotations

from django.urls import URLPattern, path

from oneonone.web.signing_in import session_views

urlpatterns: list[URLPattern] = [
    path("", session_views.index, name="sessions"),
    path("end/", session_views.end, name="session-end"),
]
