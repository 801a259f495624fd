"""Addresses of one meeting: invited to, started, moved, called off, held."""

from __future__ import annotations

from django.urls import URLPattern, path

from oneonone.web.meetings import extra_meeting_views, meeting_views, preparation_views

MEETING = "meetings/<uuid:meeting_id>/"

urlpatterns: list[URLPattern] = [
    path(f"{MEETING}prepare/", preparation_views.page, name="meeting-prepare"),
    path(f"{MEETING}prepare/tick/", preparation_views.tick, name="prepare-tick"),
    path(
        "commitments/<uuid:commitment_id>/prepare/",
        preparation_views.say_commitment,
        name="prepare-commitment",
    ),
    path("logbook/<uuid:entry_id>/leave/", preparation_views.leave_entry, name="prepare-leave"),
    path("lines/<uuid:line_id>/we-met/", extra_meeting_views.we_met, name="line-we-met"),
    path("lines/<uuid:line_id>/extra/", extra_meeting_views.extra, name="line-extra"),
    path(f"{MEETING}invite/", meeting_views.invite, name="meeting-invite"),
    path(f"{MEETING}start/", meeting_views.start, name="meeting-start"),
    path(f"{MEETING}not-started/", meeting_views.not_started, name="meeting-not-started"),
    path(f"{MEETING}live/", meeting_views.live, name="meeting-live"),
    path(f"{MEETING}go-on/", meeting_views.go_on, name="meeting-go-on"),
    path(f"{MEETING}close/", meeting_views.close, name="meeting-close"),
    path(f"{MEETING}move/", meeting_views.move, name="meeting-move"),
    path(f"{MEETING}call-off/", meeting_views.call_off, name="meeting-call-off"),
    path(f"{MEETING}held/", meeting_views.held, name="meeting-held"),
]
