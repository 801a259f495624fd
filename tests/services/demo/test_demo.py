"""The demo: an invented company, its dates hung on the day of the first start."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

from django.contrib.auth import authenticate
from django.http import HttpRequest

from accounts.models import Person
from oneonone.models import Commitment, Line, MarginNote, Meeting, Move, Notice, Organisation, Proposal
from oneonone.selectors.agenda import orders
from oneonone.selectors.cadence import standing
from oneonone.selectors.commitments import commitments
from oneonone.services import demo
from oneonone.services.private import keys

LONDON = ZoneInfo("Europe/London")


def person(name: str) -> Person:
    found: Person = Person.objects.get(name=name)
    return found


def line_of(manager: str, report: str) -> Line:
    return Line.objects.select_related("manager", "report").get(manager__name=manager, report__name=report)


def meeting_of_the_day() -> Meeting:
    line = line_of("Ines Okafor", "Tomas Lindqvist")
    return line.meetings.select_related("line", "interval").get(state=Meeting.State.ISSUED)


def test_every_account_is_a_demo_account_at_an_address_that_reaches_nobody(company: dt.datetime) -> None:
    everybody = Person.objects.all()
    assert {one.is_demo for one in everybody} == {True}
    # RFC 2606, section 3: example.org is reserved.
    assert all(one.email.endswith("@example.org") for one in everybody)
    assert Organisation.objects.get().is_demo
    assert 12 <= everybody.count() <= 16


def test_everybody_signs_in_with_the_one_password(company: dt.datetime) -> None:
    request = HttpRequest()
    request.META["REMOTE_ADDR"] = "127.0.0.1"
    for one in Person.objects.all():
        assert authenticate(request, email=one.email, password=demo.PASSWORD) == one


def test_whom_to_sign_in_as_is_said_with_their_part(company: dt.datetime) -> None:
    shown = demo.people()
    assert [account.name for account in shown[:2]] == ["Ines Okafor", "Tomas Lindqvist"]
    assert 5 <= len(shown) <= 6
    assert all(account.role for account in shown)
    assert person(shown[-1].name).is_administrator


# --- the meeting of the day


def test_one_meeting_is_issued_for_this_very_day_later_on(company: dt.datetime) -> None:
    meeting = meeting_of_the_day()
    assert meeting.starts_at == dt.datetime(2026, 11, 25, 10, 0, tzinfo=dt.UTC)
    order = orders.latest(meeting)
    assert order is not None
    # Four minutes to arrive, and two for each of the three commitments that are due or changed.
    assert (order.opening, order.closing) == (10, 5)
    assert len(order.plan["slots"]) >= 4


def test_three_meetings_were_held_before_it_each_a_quarter_apart(company: dt.datetime) -> None:
    held = meeting_of_the_day().line.meetings.filter(state=Meeting.State.CLOSED)
    assert [one.held_on for one in held] == [
        dt.date(2026, 2, 25),
        dt.date(2026, 5, 27),
        dt.date(2026, 8, 26),
    ]
    assert all(one.record_lines.exists() and one.snapshot for one in held)


def test_its_commitments_are_done_carried_twice_dropped_and_offered(company: dt.datetime) -> None:
    line = meeting_of_the_day().line
    rows = Commitment.objects.filter(line=line)
    assert {row.state for row in rows} == {"done", "dropped", "open"}
    tomas = person("Tomas Lindqvist")
    carried = {
        view.action: view.times_carried
        for view in commitments.mine(tomas, now=company)
        if not view.is_offered
    }
    assert carried["Write down how the night float is counted"] == 2
    assert [view.owner for view in commitments.offered(tomas, line, now=company)] == ["Tomas Lindqvist"]


def test_its_margins_open_for_their_writers_and_for_nobody_else(company: dt.datetime) -> None:
    for name, notes in (("Tomas Lindqvist", 4), ("Ines Okafor", 3), ("Maja Ferreira", 0)):
        reader = person(name)
        own = MarginNote.objects.of(reader)
        assert own.count() == notes
        assert all(keys.open_for(reader, note)["words"] for note in own)


# --- the year


def test_every_standing_is_there(company: dt.datetime) -> None:
    found = {
        f"{line.manager.name} - {line.report.name if line.report else line.report_name}": seen.kind
        for line in Line.objects.open().select_related("manager", "report")
        for seen in [standing.of_line(line, now=company)]
        if line.manager is not None
    }
    assert found["Ines Okafor - Tomas Lindqvist"] == "runs out"
    assert found["Ines Okafor - Ola Brandt"] == "over"
    assert found["Maja Ferreira - Mei Castellan"] == "over"
    assert found["Henrik Aalto - Rhea Adeyemi"] == "paused"
    assert found["Pavel Novotny - Anneke Vos"] == "never met"
    assert found["Henrik Aalto - Pavel Novotny"] == "within"
    assert len(found) == 15


def test_meetings_were_held_moved_called_off_and_not_held(company: dt.datetime) -> None:
    states = set(Meeting.objects.values_list("state", flat=True))
    assert states == {"planned", "issued", "closed", "called_off", "not_held"}
    assert Move.objects.count() >= 5
    first = Meeting.objects.order_by("starts_at").values_list("starts_at", flat=True)[0]
    assert company - dt.timedelta(days=366) <= first < company - dt.timedelta(days=350)


def test_every_line_that_goes_on_has_its_coming_meeting(company: dt.datetime) -> None:
    for line in Line.objects.open():
        ahead = line.meetings.filter(state__in=("planned", "issued"), starts_at__gt=company)
        assert ahead.count() == (0 if line.pauses.exists() else 1)


def test_nothing_that_fell_due_before_the_first_start_is_left_to_be_done(company: dt.datetime) -> None:
    ahead = Meeting.objects.filter(state=Meeting.State.PLANNED, starts_at__gt=company)
    assert not ahead.filter(invited_at__isnull=True, invite_at__lte=company).exists()
    assert not ahead.filter(issue_at__lte=company).exists()
    assert not Meeting.objects.filter(state=Meeting.State.CLOSED, carried_at__isnull=True).exists()


def test_a_question_waits_somebody_is_invited_and_a_line_has_ended(company: dt.datetime) -> None:
    assert Proposal.objects.get(state=Proposal.State.OPEN).kind == Proposal.Kind.INTERVAL
    invited = Line.objects.get(start=Line.Start.INVITED)
    assert invited.invitation is not None
    assert invited.invitation.expires_at > company
    assert line_of("Pavel Novotny", "Tomas Lindqvist").ended_at is not None


def test_what_is_old_was_read_and_mailed_long_ago(company: dt.datetime) -> None:
    waiting = Notice.objects.filter(mailed=False)
    assert waiting.exists()
    assert all(notice.owed_at > company - dt.timedelta(days=3) for notice in waiting)
    assert not Commitment.objects.filter(remind_at__lt=company).exists()
