"""Addresses of the cadence page."""

from django.urls import path

from oneonone.web.views import cadence

urlpatterns = [
    path("cadence/", cadence.index, name="cadence"),
    path("cadence/cadence.csv", cadence.table, name="cadence-csv"),
]
