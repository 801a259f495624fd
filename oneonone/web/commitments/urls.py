"""Addresses of commitments."""

from __future__ import annotations

from django.urls import URLPattern, path

from oneonone.web.commitments import commitment_views, own_commitment_views

MEETING = "meetings/<uuid:meeting_id>/"
COMMITMENT = "commitments/<uuid:commitment_id>/"

urlpatterns: list[URLPattern] = [
    path("commitments/", own_commitment_views.index, name="commitments"),
    path("commitments/export.csv", own_commitment_views.export, name="commitments-export"),
    path(f"{COMMITMENT}not-done/", own_commitment_views.not_done, name="commitment-not-done"),
    path(f"{COMMITMENT}tell/", own_commitment_views.tell, name="commitment-tell"),
    path(f"{COMMITMENT}log/", own_commitment_views.log_achievement, name="commitment-log"),
    path(f"{COMMITMENT}ask-feedback/", own_commitment_views.ask_feedback, name="commitment-ask-feedback"),
    path(f"{MEETING}commitments/take-on/", commitment_views.take_on, name="commitment-take-on"),
    path(
        "lines/<uuid:line_id>/commitments/take-on/",
        commitment_views.take_on_between,
        name="commitment-take-on-between",
    ),
    path(f"{COMMITMENT}confirm/", commitment_views.confirm, name="commitment-confirm"),
    path(f"{COMMITMENT}decline/", commitment_views.decline, name="commitment-decline"),
    path(f"{COMMITMENT}done/", commitment_views.done, name="commitment-done"),
    path(f"{COMMITMENT}keep/", commitment_views.keep, name="commitment-keep"),
    path(f"{COMMITMENT}drop/", commitment_views.drop, name="commitment-drop"),
    path(f"{COMMITMENT}reopen/", commitment_views.reopen, name="commitment-reopen"),
    path(f"{COMMITMENT}forecast/", commitment_views.forecast, name="commitment-forecast"),
    path(f"{COMMITMENT}date/", commitment_views.date, name="commitment-date"),
    path(f"{COMMITMENT}cue/", commitment_views.cue, name="commitment-cue"),
    path(f"{COMMITMENT}hand-over/", commitment_views.hand_over, name="commitment-hand-over"),
]
