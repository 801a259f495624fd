"""Addresses of cadence, finding times, busy times and days away."""

from __future__ import annotations

from django.urls import URLPattern, path

from oneonone.web.cadence import absence_views, busy_times_views, cadence_views, finding_times_views

urlpatterns: list[URLPattern] = [
    path("settings/days-away/<uuid:day_away_id>/", absence_views.show, name="absence"),
    path("settings/days-away/<uuid:day_away_id>/propose/", absence_views.propose, name="absence-propose"),
    path("cadence/", cadence_views.index, name="cadence"),
    path("cadence/cadence.csv", cadence_views.table, name="cadence-csv"),
    path("cadence/times/", finding_times_views.show, name="find-times"),
    path("cadence/times/calendar/", busy_times_views.read, name="busy-times-read"),
    path("cadence/times/calendar/remove/", busy_times_views.remove, name="busy-times-remove"),
    path("lines/<uuid:line_id>/times/take/", finding_times_views.take, name="find-times-take"),
]
