"""Addresses of the cadence page."""

from django.urls import path

from oneonone.web.views import busytimes, cadence, findtimes

urlpatterns = [
    path("cadence/", cadence.index, name="cadence"),
    path("cadence/cadence.csv", cadence.table, name="cadence-csv"),
    path("cadence/times/", findtimes.show, name="find-times"),
    path("cadence/times/calendar/", busytimes.read, name="busy-times-read"),
    path("cadence/times/calendar/remove/", busytimes.remove, name="busy-times-remove"),
    path("lines/<uuid:line_id>/times/take/", findtimes.take, name="find-times-take"),
]
