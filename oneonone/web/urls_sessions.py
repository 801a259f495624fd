"""Addresses of the page of one's own sessions."""

from __future__ import annotations

from django.urls import URLPattern, path

from oneonone.web.views import sessions

urlpatterns: list[URLPattern] = [
    path("", sessions.index, name="sessions"),
    path("end/", sessions.end, name="session-end"),
]
