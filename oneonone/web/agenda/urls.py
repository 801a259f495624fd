"""Addresses of the agenda: topics, their order and its reasons."""

from __future__ import annotations

from django.urls import URLPattern, path

from oneonone.web.agenda import (
    agenda_views,
    duration_views,
    other_side_views,
    placement_views,
    reason_views,
    third_time_views,
    topic_page_views,
    topic_views,
)

MEETING = "meetings/<uuid:meeting_id>/"
TOPIC = "topics/<uuid:topic_id>/"
PLACEMENT = "placements/<uuid:placement_id>/"

urlpatterns: list[URLPattern] = [
    path("lines/<uuid:line_id>/minutes/", duration_views.use, name="line-history"),
    path(MEETING, agenda_views.page, name="meeting"),
    path(f"{MEETING}as-they-see-it/", other_side_views.show, name="meeting-as-they-see-it"),
    path(f"{MEETING}opening/", agenda_views.opening, name="meeting-opening"),
    path(f"{MEETING}issue/", agenda_views.issue, name="meeting-issue"),
    path(f"{MEETING}order/undo/", agenda_views.undo, name="order-undo"),
    path(f"{MEETING}order/anew/", agenda_views.put_in_order_anew, name="order-anew"),
    path(f"{MEETING}order/read/", agenda_views.read, name="order-read"),
    path("lines/<uuid:line_id>/topics/add/", topic_views.add, name="topic-add"),
    path(f"{TOPIC}edit/", topic_views.edit, name="topic-edit"),
    path(f"{TOPIC}withdraw/", topic_views.withdraw, name="topic-withdraw"),
    path(f"{TOPIC}park/", topic_views.park, name="topic-park"),
    path(f"{TOPIC}unpark/", topic_views.unpark, name="topic-unpark"),
    path(f"{TOPIC}importance/", topic_views.importance, name="topic-importance"),
    path(f"{TOPIC}third-time/", third_time_views.answer, name="topic-third-time"),
    path(PLACEMENT, topic_page_views.page, name="placement"),
    path(f"{PLACEMENT}why/", reason_views.here, name="placement-why"),
    path(f"{MEETING}how-the-order-comes-about/", reason_views.rule, name="how-order"),
    path(f"{PLACEMENT}must/", topic_views.must, name="placement-must"),
    path(f"{PLACEMENT}move/", placement_views.move, name="placement-move"),
    path(f"{PLACEMENT}start/", placement_views.start, name="placement-start"),
    path(f"{PLACEMENT}bring-in/", placement_views.bring_in, name="placement-bring-in"),
]
