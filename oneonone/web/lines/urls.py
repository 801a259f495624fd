"""Addresses of reporting lines."""

from __future__ import annotations

from django.urls import URLPattern, path

from oneonone.web.lines import line_views

urlpatterns: list[URLPattern] = [
    path("one-on-ones/", line_views.index, name="lines"),
    path("one-on-ones/new/", line_views.new, name="line-new"),
    path("lines/<uuid:line_id>/", line_views.page, name="line"),
    path("lines/<uuid:line_id>/interval/", line_views.interval, name="line-interval"),
    path("lines/<uuid:line_id>/pause/", line_views.pause, name="line-pause"),
    path("lines/<uuid:line_id>/resume/", line_views.resume, name="line-resume"),
    path("lines/<uuid:line_id>/end/", line_views.end, name="line-end"),
    path("lines/<uuid:line_id>/invitation/", line_views.invite_again, name="line-invite-again"),
]
