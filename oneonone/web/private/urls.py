"""Addresses of the margin, the logbook, searching one's own notes, and what is private."""

from __future__ import annotations

from django.urls import URLPattern, path

from oneonone.web.private import logbook_export, logbook_views, margin_views, privacy_views, search_views

MEETING = "meetings/<uuid:meeting_id>/"
TOPIC = "topics/<uuid:topic_id>/"
ENTRY = "logbook/<uuid:entry_id>/"

urlpatterns: list[URLPattern] = [
    path("logbook/", logbook_views.index, name="logbook"),
    path("logbook/add/", logbook_views.add, name="logbook-add"),
    path("keys/", logbook_views.keys, name="keys"),
    path("logbook/achievements/", logbook_views.achievements, name="logbook-achievements"),
    *(
        path(
            f"logbook/export.{extension}",
            logbook_views.export,
            {"extension": extension},
            name=f"logbook-export-{extension}",
        )
        for extension in logbook_export.FORMATS
    ),
    path(ENTRY, logbook_views.entry, name="logbook-entry"),
    path(f"{ENTRY}remove/", logbook_views.remove, name="logbook-remove"),
    path(f"{ENTRY}bring/", logbook_views.bring, name="logbook-bring"),
    path(f"{ENTRY}take-back/", logbook_views.take_back, name="logbook-take-back"),
    path("privacy/", privacy_views.show, name="privacy"),
    path("one-on-ones/notes/", search_views.own_notes, name="notes-search"),
    path(f"{MEETING}margin/", margin_views.write_at_meeting, name="margin-write"),
    path(f"{TOPIC}margin/", margin_views.write_at_topic, name="margin-write"),
    path(f"{TOPIC}unclear/", margin_views.unclear, name="margin-unclear"),
]
