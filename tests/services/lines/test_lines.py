"""Lines: made, refused, joined, paused, resumed and ended."""

from __future__ import annotations

import datetime as dt
from uuid import uuid4

import pytest

from accounts.models import Person
from accounts.services import invitations
from oneonone.models import (
    AuditEvent,
    Commitment,
    Interval,
    Line,
    Meeting,
    MustDiscuss,
    Placement,
    Side,
    Topic,
)
from oneonone.models.owed import Notice
from oneonone.services.agenda import topics
from oneonone.services.commitments import carrying
from oneonone.services.lines import lines
from oneonone.services.meetings import meetings
from oneonone.services.refusals import Circle, NotNow, OutOfRange, PastDate, SecondLine
from tests.scene import (
    MADE,
    QUARTERLY,
    Brought,
    TakenOn,
    coming_of,
    make_line,
    make_topic,
    placement_of,
)

TODAY = MADE.date()


def create(**sides: object) -> lines.Made:
    values: dict[str, object] = {"now": MADE, "today": TODAY, "terms": QUARTERLY, **sides}
    return lines.create(**values)  # type: ignore[arg-type]


def test_a_line_of_two_accounts_is_joined_and_has_its_first_meeting_at_once(
    manager: Person, report: Person
) -> None:
    line = create(actor=manager, manager=manager, report=report).line
    assert line.start == Line.Start.JOINED
    assert line.side_of(manager) is Side.MANAGER
    assert line.side_of(report) is Side.REPORT
    assert coming_of(line).starts_at == dt.datetime(2026, 12, 3, 10, 0, tzinfo=dt.UTC)


def test_a_line_made_by_its_manager_waits_for_the_administrator_to_open_the_view_down_the_tree(
    manager: Person, report: Person, peer: Person, administrator: Person
) -> None:
    by_manager = create(actor=manager, manager=manager, report=report).line
    by_office = create(actor=administrator, manager=manager, report=peer).line
    assert by_manager.tree_confirmed_at is None
    assert by_office.tree_confirmed_by == administrator
    lines.confirm(line=by_manager, actor=administrator, now=MADE)
    assert by_manager.tree_confirmed_at == MADE


def test_a_second_open_line_for_a_pair_is_refused(line: Line, manager: Person, report: Person) -> None:
    with pytest.raises(SecondLine) as refusal:
        create(actor=manager, manager=manager, report=report)
    assert refusal.value.field == "report"
    assert Line.objects.count() == 1


def test_a_pair_may_begin_again_once_the_line_has_ended(
    former_line: Line, former_manager: Person, report: Person
) -> None:
    again = create(actor=former_manager, manager=former_manager, report=report).line
    assert again.pk != former_line.pk


def test_nobody_is_their_own_manager(manager: Person) -> None:
    with pytest.raises(OutOfRange) as refusal:
        create(actor=manager, manager=manager, report=manager)
    assert refusal.value.field == "report"


def test_a_line_with_one_side_missing_is_refused_by_field(manager: Person, administrator: Person) -> None:
    for sides, field in (({"manager": manager}, "report"), ({"report": manager}, "manager")):
        with pytest.raises(OutOfRange) as refusal:
            create(actor=administrator, **sides)
        assert refusal.value.field == field


def test_a_circle_is_refused_without_naming_a_third_person(
    line: Line, lead_line: Line, lead: Person, manager: Person, report: Person, administrator: Person
) -> None:
    with pytest.raises(Circle) as refusal:
        create(actor=administrator, manager=report, report=lead)
    assert manager.name not in str(refusal.value)
    with pytest.raises(Circle):
        create(actor=administrator, manager=report, report=manager)


def test_an_ended_line_closes_no_circle(
    line: Line, lead_line: Line, lead: Person, report: Person, administrator: Person
) -> None:
    lines.end(line=line, actor=administrator, now=MADE, today=TODAY)
    assert create(actor=administrator, manager=report, report=lead).line.is_open


def test_a_start_more_than_a_year_back_is_refused(manager: Person, report: Person) -> None:
    with pytest.raises(PastDate) as refusal:
        create(actor=manager, manager=manager, report=report, starts_on=dt.date(2025, 9, 5))
    assert refusal.value.field == "starts_on"
    made = create(actor=manager, manager=manager, report=report, starts_on=dt.date(2025, 9, 6))
    assert made.line.starts_on == dt.date(2025, 9, 6)


def test_the_same_client_key_makes_one_line(manager: Person, report: Person) -> None:
    key = uuid4()
    first = create(actor=manager, manager=manager, report=report, client_key=key)
    second = create(actor=manager, manager=manager, report=report, client_key=key)
    assert first.line.pk == second.line.pk
    assert second.token is None


INVITED = lines.Invited(name="Yusuf Adeyemi", email="yusuf.adeyemi@example.org", side=Side.REPORT)


def test_inviting_makes_a_line_that_shares_from_now_on_and_a_token_told_once(manager: Person) -> None:
    made = create(actor=manager, manager=manager, invited=INVITED)
    assert made.line.start == Line.Start.INVITED
    assert made.line.name_on(Side.REPORT) == "Yusuf Adeyemi"
    assert made.token is not None
    assert invitations.by_token(made.token) == made.line.invitation
    assert coming_of(made.line).state == Meeting.State.PLANNED


def test_a_second_invitation_to_the_same_address_is_refused(manager: Person) -> None:
    create(actor=manager, manager=manager, invited=INVITED)
    again = lines.Invited(name="Yusuf", email=" YUSUF.Adeyemi@example.org ", side=Side.REPORT)
    with pytest.raises(SecondLine) as refusal:
        create(actor=manager, manager=manager, invited=again)
    assert refusal.value.field == "email"


def test_inviting_somebody_one_has_a_line_with_is_refused(
    line: Line, manager: Person, report: Person
) -> None:
    known = lines.Invited(name="Tomas", email=report.email, side=Side.REPORT)
    with pytest.raises(SecondLine):
        create(actor=manager, manager=manager, invited=known)


def test_inviting_oneself_is_refused(manager: Person) -> None:
    oneself = lines.Invited(name="Ines", email=manager.email.upper(), side=Side.REPORT)
    with pytest.raises(OutOfRange) as refusal:
        create(actor=manager, manager=manager, invited=oneself)
    assert refusal.value.field == "email"


def test_whoever_accepts_takes_the_open_side_and_the_other_is_told(manager: Person, report: Person) -> None:
    line = create(actor=manager, manager=manager, invited=INVITED).line
    assert line.invitation is not None
    joined = lines.join(invitation=line.invitation, person=report, now=MADE)
    assert joined is not None
    assert (joined.pk, joined.start, joined.report) == (line.pk, Line.Start.JOINED, report)
    assert joined.report_name == ""
    assert Notice.objects.filter(kind=Notice.Kind.JOINED, person=manager, line=line).count() == 1


def test_joining_a_pair_that_has_a_line_or_into_a_circle_is_refused(
    line: Line, lead_line: Line, manager: Person, report: Person, lead: Person
) -> None:
    second = create(actor=manager, manager=manager, invited=INVITED).line
    assert second.invitation is not None
    with pytest.raises(SecondLine):
        lines.join(invitation=second.invitation, person=report, now=MADE)
    with pytest.raises(Circle):
        lines.join(invitation=second.invitation, person=lead, now=MADE)
    second.refresh_from_db()
    assert second.start == Line.Start.INVITED


# --- pauses


def pause(line: Line, first: dt.date, last: dt.date | None, *, today: dt.date = TODAY) -> None:
    lines.pause(line=line, first=first, last=last, actor=line.someone, now=MADE, today=today)


def test_a_pause_calls_off_what_it_covers_and_the_meeting_after_it_gets_the_topics(
    line: Line, meeting: Meeting, brought: Brought
) -> None:
    pause(line, dt.date(2026, 12, 1), dt.date(2026, 12, 31))
    meeting.refresh_from_db()
    following = coming_of(line)
    assert meeting.state == Meeting.State.CALLED_OFF
    assert following.starts_at == dt.datetime(2027, 3, 4, 10, 0, tzinfo=dt.UTC)
    assert following.placements.filter(outcome=Placement.Outcome.UNDECIDED).count() == 5


def test_the_other_side_is_told_what_a_pause_called_off(line: Line, meeting: Meeting, report: Person) -> None:
    pause(line, dt.date(2026, 12, 1), dt.date(2026, 12, 31))
    told = Notice.objects.get(kind=Notice.Kind.CALLED_OFF)
    assert (told.person, told.meeting) == (report, meeting)


def test_an_endless_pause_leaves_no_meeting_and_the_topics_wait(line: Line, brought: Brought) -> None:
    pause(line, TODAY, None)
    assert not line.meetings.coming().exists()
    assert Topic.objects.filter(line=line, state=Topic.State.OPEN).count() == 5


def test_topics_that_waited_are_on_the_meeting_made_when_the_line_is_resumed(
    line: Line, brought: Brought, manager: Person
) -> None:
    pause(line, TODAY, None)
    later = dt.datetime(2026, 12, 14, 9, 0, tzinfo=dt.UTC)
    lines.resume(line=line, actor=manager, now=later, today=later.date())
    assert line.pauses.get().last == dt.date(2026, 12, 13)
    assert coming_of(line).placements.count() == 5


def test_a_pause_that_has_not_begun_is_dropped_when_resumed(line: Line, manager: Person) -> None:
    pause(line, dt.date(2027, 5, 1), None)
    lines.resume(line=line, actor=manager, now=MADE, today=TODAY)
    assert not line.pauses.exists()


def test_resuming_ends_the_pause_that_runs_and_leaves_a_later_one(
    line: Line, meeting: Meeting, manager: Person
) -> None:
    pause(line, dt.date(2026, 12, 1), dt.date(2026, 12, 31))
    tuesday = dt.datetime(2026, 9, 8, 9, 0, tzinfo=dt.UTC)
    first, last = dt.date(2026, 9, 8), dt.date(2026, 9, 20)
    lines.pause(line=line, first=first, last=last, actor=manager, now=tuesday, today=first)
    wednesday = dt.datetime(2026, 9, 9, 9, 0, tzinfo=dt.UTC)
    lines.resume(line=line, actor=manager, now=wednesday, today=wednesday.date())
    assert list(line.pauses.values_list("first", "last")) == [
        (dt.date(2026, 9, 8), dt.date(2026, 9, 8)),
        (dt.date(2026, 12, 1), dt.date(2026, 12, 31)),
    ]
    meeting.refresh_from_db()
    assert meeting.state == Meeting.State.CALLED_OFF


def test_a_meeting_called_off_by_a_pause_is_planned_again_when_the_pause_is_taken_back(
    line: Line, meeting: Meeting, brought: Brought, manager: Person, report: Person
) -> None:
    pause(line, dt.date(2026, 12, 1), None)
    carrying.carry(meeting=meeting, now=MADE)
    lines.resume(line=line, actor=manager, now=MADE, today=TODAY)
    meeting.refresh_from_db()
    assert (meeting.state, meeting.called_off_at, meeting.carried_at) == (Meeting.State.PLANNED, None, None)
    assert (meeting.schedule_version, meeting.calendar_sequence) == (2, 2)
    assert coming_of(line) == meeting
    assert meeting.placements.filter(outcome=Placement.Outcome.UNDECIDED).count() == 5
    told = Notice.objects.filter(person=report, meeting=meeting, cancelled_at__isnull=True)
    assert [notice.kind for notice in told] == [Notice.Kind.MOVED]


def test_topics_that_went_on_to_the_meeting_after_a_pause_come_back_with_their_marks(
    line: Line, meeting: Meeting, brought: Brought, manager: Person
) -> None:
    pause(line, dt.date(2026, 12, 1), dt.date(2026, 12, 31))
    after = coming_of(line)
    topics.set_must(placement=placement_of(brought.crane), must=True, actor=manager, now=MADE)
    lines.resume(line=line, actor=manager, now=MADE, today=TODAY)
    assert {placement_of(topic).meeting_id for topic in vars(brought).values()} == {meeting.pk}
    assert MustDiscuss.objects.get().placement == placement_of(brought.crane)
    meetings.call_off(meeting=coming_of(line), actor=manager, now=MADE)
    assert {placement_of(topic).meeting_id for topic in vars(brought).values()} == {after.pk}


def test_a_meeting_called_off_by_hand_stays_called_off_when_a_pause_ends(
    line: Line, meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    meetings.call_off(meeting=meeting, actor=manager, now=MADE)
    lines.pause(
        line=line, first=now.date(), last=dt.date(2026, 12, 31), actor=manager, now=now, today=now.date()
    )
    lines.resume(line=line, actor=manager, now=now, today=now.date())
    meeting.refresh_from_db()
    assert meeting.state == Meeting.State.CALLED_OFF


@pytest.mark.parametrize(
    ("first", "last", "refused", "field"),
    [
        (dt.date(2026, 9, 6), None, PastDate, "first"),
        (dt.date(2026, 12, 10), dt.date(2026, 12, 9), OutOfRange, "last"),
    ],
)
def test_a_pause_in_the_past_or_backwards_is_refused(
    line: Line, first: dt.date, last: dt.date | None, refused: type[Exception], field: str
) -> None:
    with pytest.raises(refused) as refusal:
        pause(line, first, last)
    assert refusal.value.field == field  # type: ignore[attr-defined]


def test_pauses_that_overlap_are_refused_and_others_are_not(line: Line) -> None:
    pause(line, dt.date(2027, 2, 1), dt.date(2027, 2, 28))
    for first, last in (
        (dt.date(2027, 2, 28), dt.date(2027, 3, 5)),
        (dt.date(2027, 1, 20), dt.date(2027, 2, 1)),
        (dt.date(2027, 1, 20), None),
    ):
        with pytest.raises(NotNow):
            pause(line, first, last)
    pause(line, dt.date(2026, 12, 20), dt.date(2027, 1, 31))
    pause(line, dt.date(2027, 3, 1), None)
    assert line.pauses.count() == 3


# --- the end


def end(line: Line, administrator: Person, now: dt.datetime) -> None:
    lines.end(line=line, actor=administrator, now=now, today=now.date())


def test_an_ended_line_calls_its_meetings_off_and_keeps_every_topic(
    line: Line, meeting: Meeting, brought: Brought, administrator: Person, now: dt.datetime
) -> None:
    end(line, administrator, now)
    meeting.refresh_from_db()
    assert (line.ends_on, line.ended_by) == (now.date(), administrator)
    assert meeting.state == Meeting.State.CALLED_OFF
    assert not line.meetings.coming().exists()
    assert set(Topic.objects.filter(line=line).values_list("state", flat=True)) == {Topic.State.OPEN}


def test_the_manager_loses_an_ended_line_and_the_report_keeps_its_closed_records(
    closed_meeting: Meeting, administrator: Person, manager: Person, report: Person, taken_on: TakenOn
) -> None:
    end(closed_meeting.line, administrator, dt.datetime(2026, 12, 4, 9, 0, tzinfo=dt.UTC))
    assert not Line.objects.visible_to(manager).exists()
    assert not Meeting.objects.visible_to(manager).exists()
    assert list(Meeting.objects.visible_to(report)) == [closed_meeting]
    assert not Topic.objects.visible_to(report).exists()
    assert list(Commitment.objects.visible_to(manager)) == [taken_on.managers]


def test_open_commitments_wait_with_their_owners(
    closed_meeting: Meeting, administrator: Person, taken_on: TakenOn
) -> None:
    end(closed_meeting.line, administrator, dt.datetime(2026, 12, 4, 9, 0, tzinfo=dt.UTC))
    states = {Commitment.objects.get(pk=row.pk).state for row in vars(taken_on).values()}
    assert states == {Commitment.State.OPEN}


def test_a_meeting_under_way_when_the_line_ends_was_held_and_keeps_its_record(
    under_way_meeting: Meeting, administrator: Person, report: Person
) -> None:
    end(under_way_meeting.line, administrator, dt.datetime(2026, 12, 3, 10, 20, tzinfo=dt.UTC))
    under_way_meeting.refresh_from_db()
    assert (under_way_meeting.state, under_way_meeting.held_on) == (
        Meeting.State.CLOSED,
        dt.date(2026, 12, 3),
    )
    assert list(Meeting.objects.visible_to(report)) == [under_way_meeting]
    assert not under_way_meeting.line.meetings.coming().exists()


def test_everybody_but_whoever_ended_it_is_told(
    line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    end(line, manager, now)
    assert list(Notice.objects.filter(kind=Notice.Kind.LINE_ENDED).values_list("person", flat=True)) == [
        report.pk
    ]
    assert AuditEvent.objects.filter(act="line ended", subject=line.pk).count() == 1


def test_a_line_ends_once(line: Line, administrator: Person, now: dt.datetime) -> None:
    end(line, administrator, now)
    with pytest.raises(NotNow):
        end(line, administrator, now)


def test_an_invitation_not_yet_accepted_is_withdrawn_with_its_line(manager: Person) -> None:
    made = create(actor=manager, manager=manager, invited=INVITED)
    lines.end(line=made.line, actor=manager, now=MADE, today=TODAY)
    assert made.line.invitation is not None
    made.line.invitation.refresh_from_db()
    assert made.line.invitation.revoked_at == MADE
    assert lines.join(invitation=made.line.invitation, person=manager, now=MADE) is None


def test_a_line_planned_for_later_may_end_before_it_begins(
    manager: Person, report: Person, administrator: Person
) -> None:
    line = create(actor=administrator, manager=manager, report=report, starts_on=dt.date(2026, 10, 1)).line
    lines.end(line=line, actor=administrator, now=MADE, today=TODAY)
    assert line.ends_on == dt.date(2026, 10, 1)


def test_topics_cannot_be_put_on_an_ended_line(
    line: Line, manager: Person, administrator: Person, now: dt.datetime
) -> None:
    end(line, administrator, now)
    with pytest.raises(NotNow):
        make_topic(line, manager, now=now)


def test_a_line_of_people_who_share_no_working_day_is_made_without_a_meeting(
    manager: Person, report: Person
) -> None:
    manager.working_week, report.working_week = "1110000", "0001100"
    manager.save(update_fields=["working_week"])
    report.save(update_fields=["working_week"])
    line = make_line(manager, report)
    assert not line.meetings.exists()
    assert Interval.objects.filter(line=line).count() == 1
