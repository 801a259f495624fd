"""Addresses of meetings: agenda, topics, margin, the meeting itself, its record, and what is taken on."""

from django.urls import path

from oneonone.web.views import (
    agenda,
    byhand,
    commitments,
    margin,
    meetings,
    placements,
    proposals,
    record,
    theirs,
    thirdtime,
    topics,
    why,
)

MEETING = "meetings/<uuid:meeting_id>/"
TOPIC = "topics/<uuid:topic_id>/"
PLACEMENT = "placements/<uuid:placement_id>/"
LINE = "record-lines/<uuid:record_line_id>/"
COMMITMENT = "commitments/<uuid:commitment_id>/"

urlpatterns = [
    path(MEETING, agenda.page, name="meeting"),
    path(f"{MEETING}as-they-see-it/", theirs.show, name="meeting-as-they-see-it"),
    path(f"{MEETING}opening/", agenda.opening, name="meeting-opening"),
    path(f"{MEETING}invite/", meetings.invite, name="meeting-invite"),
    path(f"{MEETING}issue/", agenda.issue, name="meeting-issue"),
    path(f"{MEETING}order/undo/", agenda.undo, name="order-undo"),
    path(f"{MEETING}order/anew/", agenda.put_in_order_anew, name="order-anew"),
    path(f"{MEETING}order/read/", agenda.read, name="order-read"),
    path(f"{MEETING}start/", meetings.start, name="meeting-start"),
    path(f"{MEETING}not-started/", meetings.not_started, name="meeting-not-started"),
    path(f"{MEETING}live/", meetings.live, name="meeting-live"),
    path(f"{MEETING}go-on/", meetings.go_on, name="meeting-go-on"),
    path(f"{MEETING}close/", meetings.close, name="meeting-close"),
    path(f"{MEETING}move/", meetings.move, name="meeting-move"),
    path(f"{MEETING}call-off/", meetings.call_off, name="meeting-call-off"),
    path(f"{MEETING}held/", meetings.held, name="meeting-held"),
    path(f"{MEETING}margin/", margin.write_at_meeting, name="margin-write"),
    path(f"{MEETING}record/", record.page, name="record"),
    path(f"{MEETING}record/add/", record.add_line, name="record-line-add"),
    path(f"{MEETING}record/additions/add/", record.add_addition, name="record-addition-add"),
    path(f"{MEETING}record/seen/", record.seen, name="record-seen"),
    path(f"{MEETING}commitments/take-on/", commitments.take_on, name="commitment-take-on"),
    path(f"{LINE}edit/", record.edit_line, name="record-line-edit"),
    path(f"{LINE}remove/", record.remove_line, name="record-line-remove"),
    path(
        "record-additions/<uuid:record_addition_id>/remove/",
        record.remove_addition,
        name="record-addition-remove",
    ),
    path("lines/<uuid:line_id>/topics/add/", topics.add, name="topic-add"),
    path(
        "lines/<uuid:line_id>/commitments/take-on/",
        commitments.take_on_between,
        name="commitment-take-on-between",
    ),
    path(f"{TOPIC}edit/", topics.edit, name="topic-edit"),
    path(f"{TOPIC}withdraw/", topics.withdraw, name="topic-withdraw"),
    path(f"{TOPIC}park/", topics.park, name="topic-park"),
    path(f"{TOPIC}unpark/", topics.unpark, name="topic-unpark"),
    path(f"{TOPIC}importance/", topics.importance, name="topic-importance"),
    path(f"{TOPIC}third-time/", thirdtime.answer, name="topic-third-time"),
    path(f"{TOPIC}margin/", margin.write_at_topic, name="margin-write"),
    path(f"{TOPIC}unclear/", margin.unclear, name="margin-unclear"),
    path(PLACEMENT, placements.page, name="placement"),
    path(f"{PLACEMENT}why/", why.here, name="placement-why"),
    path(f"{MEETING}how-the-order-comes-about/", why.rule, name="how-order"),
    path(f"{PLACEMENT}must/", topics.must, name="placement-must"),
    path(f"{PLACEMENT}move/", byhand.move, name="placement-move"),
    path(f"{PLACEMENT}start/", byhand.start, name="placement-start"),
    path(f"{PLACEMENT}bring-in/", byhand.bring_in, name="placement-bring-in"),
    path("proposals/<uuid:proposal_id>/answer/", proposals.answer, name="proposal-answer"),
    path("proposals/<uuid:proposal_id>/withdraw/", proposals.withdraw, name="proposal-withdraw"),
    path(f"{COMMITMENT}confirm/", commitments.confirm, name="commitment-confirm"),
    path(f"{COMMITMENT}decline/", commitments.decline, name="commitment-decline"),
    path(f"{COMMITMENT}done/", commitments.done, name="commitment-done"),
    path(f"{COMMITMENT}keep/", commitments.keep, name="commitment-keep"),
    path(f"{COMMITMENT}drop/", commitments.drop, name="commitment-drop"),
    path(f"{COMMITMENT}reopen/", commitments.reopen, name="commitment-reopen"),
    path(f"{COMMITMENT}forecast/", commitments.forecast, name="commitment-forecast"),
    path(f"{COMMITMENT}date/", commitments.date, name="commitment-date"),
    path(f"{COMMITMENT}cue/", commitments.cue, name="commitment-cue"),
    path(f"{COMMITMENT}hand-over/", commitments.hand_over, name="commitment-hand-over"),
]
