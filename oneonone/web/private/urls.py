"""Addresses of the margin, searching one's own notes, and what is private."""

from __future__ import annotations

from django.urls import URLPattern, path

from oneonone.web.private import margin_views, privacy_views, search_views

MEETING = "meetings/<uuid:meeting_id>/"
TOPIC = "topics/<uuid:topic_id>/"

urlpatterns: list[URLPattern] = [
    path("privacy/", privacy_views.show, name="privacy"),
    path("one-on-ones/notes/", search_views.own_notes, name="notes-search"),
    path(f"{MEETING}margin/", margin_views.write_at_meeting, name="margin-write"),
    path(f"{TOPIC}margin/", margin_views.write_at_topic, name="margin-write"),
    path(f"{TOPIC}unclear/", margin_views.unclear, name="margin-unclear"),
]
