"""Addresses of the record of a meeting."""

from __future__ import annotations

from django.urls import URLPattern, path

from oneonone.web.record import record_views

MEETING = "meetings/<uuid:meeting_id>/"
LINE = "record-lines/<uuid:record_line_id>/"

urlpatterns: list[URLPattern] = [
    path(f"{MEETING}record/", record_views.page, name="record"),
    path(f"{MEETING}record/add/", record_views.add_line, name="record-line-add"),
    path(f"{MEETING}record/additions/add/", record_views.add_addition, name="record-addition-add"),
    path(f"{MEETING}record/seen/", record_views.seen, name="record-seen"),
    path(f"{LINE}edit/", record_views.edit_line, name="record-line-edit"),
    path(f"{LINE}remove/", record_views.remove_line, name="record-line-remove"),
    path(
        "record-additions/<uuid:record_addition_id>/remove/",
        record_views.remove_addition,
        name="record-addition-remove",
    ),
]
