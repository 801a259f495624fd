"""The jobs in their order: the whole cycle by itself, and running again changes nothing."""

from __future__ import annotations

import datetime as dt
import inspect
import json
import logging
from dataclasses import replace
from typing import Any
from uuid import uuid4

import pytest
from celery import current_app
from django.apps import apps
from django.core import mail
from django.core.management import call_command
from django.db import OperationalError, connection
from django.db.models import QuerySet
from django.test.utils import CaptureQueriesContext
from pytest_django import Settings

from accounts.models import Person
from oneonone import clock
from oneonone.models import Carry, JobHealth, Line, Mail, Meeting, Notice, Placement, Side, Tick, ZoneRules
from oneonone.services.commitments import commitments
from oneonone.services.meetings import meetings
from oneonone.services.notices import drains
from oneonone.services.upkeep import retention
from tasks import schedule
from tests.scene import Brought, coming_of, make_topic

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def mail_server(settings: Settings) -> None:
    """Mail can leave; what leaves lies in ``mail.outbox``."""
    settings.MAIL_CAN_LEAVE = True


def utc(month: int, day: int, hour: int = 0, minute: int = 0, *, year: int = 2026) -> dt.datetime:
    return dt.datetime(year, month, day, hour, minute, tzinfo=dt.UTC)


def rows() -> dict[str, list[dict[str, Any]]]:
    """Everything shared or owed that the domain holds, except when the jobs last looked."""
    models: list[Any] = list(apps.get_app_config("oneonone").get_models())
    return {
        model.__name__: list(model.objects.order_by("pk").values())
        for model in models
        if model is not JobHealth and getattr(model, "privacy", "shared") != "private"
    }


def run(now: dt.datetime) -> dict[str, int]:
    """Let the jobs work until nothing is left, and check that working again changes nothing."""
    done = schedule.run_once(now).done
    before, sent = rows(), len(mail.outbox)
    assert sum(schedule.run_once(now).done.values()) == 0
    assert rows() == before
    assert len(mail.outbox) == sent
    return {name: count for name, count in done.items() if count}


def test_the_whole_cycle_runs_by_itself(
    line: Line, brought: Brought, manager: Person, report: Person
) -> None:
    first = coming_of(line)

    assert run(utc(11, 19, 9))["invite"] == 1
    assert mail.outbox == []
    assert run(utc(11, 20, 8))["deliver mails"] == 2
    assert sorted(message.to for message in mail.outbox) == [[manager.email], [report.email]]

    assert run(utc(11, 30, 12))["issue"] == 1
    mail.outbox.clear()
    run(utc(11, 30, 13))
    assert {message.subject for message in mail.outbox} == {"Agenda for 3 December"}
    run(utc(12, 1, 10))
    mail.outbox.clear()
    run(utc(12, 3, 8))
    assert [message.subject for message in mail.outbox] == ["One-on-one on 3 December"] * 2

    meetings.start(meeting=Meeting.objects.get(pk=first.pk), actor=manager, now=utc(12, 3, 10))
    promise = commitments.take_on(
        line=line,
        owner_side=Side.REPORT,
        action="Draft the handover sheet",
        how_known="",
        date=dt.date(2026, 12, 10),
        actor=report,
        now=utc(12, 3, 10, 30),
        meeting=Meeting.objects.get(pk=first.pk),
    )
    meetings.close(meeting=Meeting.objects.get(pk=first.pk), actor=manager, now=utc(12, 3, 10, 50))

    assert run(utc(12, 3, 10, 51))["carry"] == 1
    following = coming_of(line)
    assert Carry.objects.get(commitment=promise).to_meeting == following
    assert Placement.objects.filter(meeting=following, outcome="undecided").count() == 5

    assert run(utc(12, 7, 12))["record"] == 1
    assert run(utc(12, 9, 7))["remind"] == 1
    assert Notice.objects.filter(kind="commitment", person=report).count() == 1

    kept = run(utc(3, 4, 9, year=2027))
    assert kept["invite"] == 1
    assert "carry" not in kept


def test_an_interval_that_is_over_is_told_by_itself(line: Line, manager: Person) -> None:
    """Never met since 7 September; the interval of 13 weeks ends with its next date, 10 December."""
    Meeting.objects.all().update(state="called_off")
    for day in (3, 10, 11, 12, 24):
        run(utc(12, day, 9))
    told = Notice.objects.filter(kind="cadence", person=manager).values_list("occurrence", flat=True)
    assert [kind.rpartition(" ")[0] for kind in told] == ["over"]


def test_a_meeting_that_nobody_answers_about_passes_its_topics_on_by_itself(
    line: Line, brought: Brought, manager: Person
) -> None:
    first = coming_of(line)
    for now in (utc(11, 19, 9), utc(12, 3, 10), utc(12, 4, 10), utc(2, 18, 9, year=2027)):
        run(now)
    first.refresh_from_db()
    assert first.state == Meeting.State.NOT_HELD
    assert Placement.objects.filter(meeting=coming_of(line), outcome="undecided").count() == 5
    assert Notice.objects.filter(kind="unanswered", person=manager).count() == 1


def test_a_job_that_fails_is_noted_and_the_others_go_on(
    meeting: Meeting, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def away(now: dt.datetime) -> QuerySet[Line]:
        raise OperationalError("database is locked")

    jobs = tuple(replace(job, due=away) if job.name == "coming" else job for job in schedule.JOBS)
    monkeypatch.setattr(schedule, "JOBS", jobs)
    with caplog.at_level(logging.CRITICAL):
        assert schedule.run_once(utc(11, 19, 9)).done["invite"] == 1
    health = {row.job: row for row in JobHealth.objects.all()}
    assert (health["coming"].failures, health["coming"].last_success_at) == (1, None)
    assert health[JobHealth.RUN].last_success_at == utc(11, 19, 9)
    assert health["invite"].last_success_at == utc(11, 19, 9)


def test_upkeep_that_fails_is_noted_and_keeps_nothing_from_being_done(
    meeting: Meeting,
    held_clock: dt.datetime,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    def away(now: dt.datetime) -> int:
        raise OperationalError("database is locked")

    monkeypatch.setattr(retention, "sweep", away)
    with caplog.at_level(logging.CRITICAL):
        schedule.tick()
    assert JobHealth.objects.get(job=schedule.UPKEEP).failures == 1
    assert ZoneRules.objects.filter(zone=meeting.zone).exists()
    assert Notice.objects.filter(kind="invite").count() == 2


def test_a_run_has_a_heartbeat_whether_or_not_anything_was_due(line: Line, now: dt.datetime) -> None:
    schedule.run_once(now)
    schedule.run_once(now + dt.timedelta(minutes=1))
    health = dict(JobHealth.objects.values_list("job", "last_success_at"))
    assert (health[JobHealth.RUN], health["invite"]) == (now + dt.timedelta(minutes=1), now)


def test_a_run_is_bounded_and_says_that_there_is_more(
    line: Line, manager: Person, now: dt.datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(schedule, "MOST_ROWS", 1)
    owed = [
        Notice(kind="joined", person=manager, subject=line.pk, occurrence=str(n), owed_at=now) for n in "12"
    ]
    Notice.objects.bulk_create(owed)
    Meeting.objects.update(invited_at=now)
    first = schedule.run_once(now)
    assert (first.done["mail notices"], first.more) == (1, True)
    while schedule.run_once(now).more:
        pass
    assert mail.outbox == []
    schedule.run_once(now + dt.timedelta(days=1))
    assert len(mail.outbox) == 1


def test_one_slot_of_the_clock_is_taken_once_however_many_ring(now: dt.datetime) -> None:
    half = dt.timedelta(seconds=30)
    takes = [schedule.take_slot("tick", now + dt.timedelta(seconds=s), every=half) for s in (0, 5, 29, 30)]
    assert takes == [True, False, False, True]
    assert list(Tick.objects.order_by("due_at").values_list("due_at", flat=True)) == [now, now + half]


def test_the_tick_works_once_in_its_slot_and_finds_mails_whose_sender_is_gone(
    meeting: Meeting, held_clock: dt.datetime
) -> None:
    lost = Mail.objects.create(
        kind="account",
        to_address="ines@example.org",
        state="sending",
        claimed_at=held_clock - dt.timedelta(hours=1),
        message_id="<lost@localhost>",
        not_before=held_clock,
        created_at=held_clock,
    )
    schedule.tick()
    lost.refresh_from_db()
    assert lost.state == Mail.State.UNKNOWN
    assert Notice.objects.filter(kind="invite").count() == 2
    Meeting.objects.update(invited_at=None)
    schedule.tick()
    assert Meeting.objects.get().invited_at is None
    clock.hold_at(held_clock + dt.timedelta(minutes=1))
    schedule.tick()
    assert Meeting.objects.get().invited_at == held_clock + dt.timedelta(minutes=1)


def test_what_a_page_rings_for_is_done_without_a_tick(meeting: Meeting, held_clock: dt.datetime) -> None:
    schedule.drain()
    assert Meeting.objects.get().invited_at == held_clock
    assert not Tick.objects.exists()


def test_rings_that_meet_a_drain_under_way_make_it_look_once_more(
    meeting: Meeting, held_clock: dt.datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    real, runs = schedule.run_once, []

    def run_once(now: dt.datetime, **more: Any) -> schedule.Run:
        runs.append(now)
        if len(runs) == 1:
            for _ring in range(25):
                schedule.drain()
        return real(now, **more)

    monkeypatch.setattr(schedule, "run_once", run_once)
    schedule.drain()
    assert len(runs) == 2


def test_without_the_lease_each_ring_is_a_drain_of_its_own(
    held_clock: dt.datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    runs: list[dt.datetime] = []

    def run_once(now: dt.datetime, **more: Any) -> schedule.Run:
        runs.append(now)
        if len(runs) == 1:
            for _ring in range(25):
                schedule.drain()
        return schedule.Run()

    monkeypatch.setattr(schedule, "run_once", run_once)
    monkeypatch.setattr(drains, "begin", lambda now: uuid4())
    schedule.drain()
    assert len(runs) == 26


def test_a_tick_with_nothing_to_do_asks_at_most_ten_times(
    line: Line, held_clock: dt.datetime, settings: Settings
) -> None:
    schedule.tick()
    schedule.tick()
    clock.hold_at(held_clock + dt.timedelta(minutes=1))
    with CaptureQueriesContext(connection) as asked:
        schedule.tick()
    assert len(asked) <= 10, [query["sql"][:90] for query in asked]
    assert Tick.objects.filter(schedule="tick").count() == 2


def test_a_run_writes_one_line_with_numbers_and_names_of_jobs(
    meeting: Meeting, now: dt.datetime, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.INFO):
        schedule.run_once(now)
        schedule.run_once(now + dt.timedelta(seconds=1))
    (line,) = [json.loads(one.message) for one in caplog.records if one.name == "tasks.schedule"]
    assert line["done"]["invite"] == 1
    assert (line["failed"], line["more"], line["jobs_run"]) == ([], False, now.isoformat())


def test_tasks_take_nothing() -> None:
    """Arguments of tasks lie in the broker and in logs."""
    ours = {
        name: task for name, task in current_app.tasks.items() if not name.startswith(("celery.", "tests."))
    }
    assert set(ours) == {"tasks.schedule.tick", "tasks.schedule.drain"}
    for task in ours.values():
        assert list(inspect.signature(task.run).parameters) == []


def test_the_command_does_what_is_due_and_tells_how_the_jobs_are(
    meeting: Meeting, held_clock: dt.datetime, capsys: pytest.CaptureFixture[str]
) -> None:
    call_command("jobs", "run")
    assert "invite: 1" in capsys.readouterr().out
    call_command("jobs", "run")
    assert capsys.readouterr().out == ""
    call_command("jobs", "health")
    assert "invite: last did something 2026-11-25T10:00:00+00:00, failures 0" in capsys.readouterr().out


def test_a_poison_row_starves_no_other(
    line: Line, peer_line: Line, manager: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The first of two meetings cannot be invited to; the second is, and the first is tried again later."""
    make_topic(line, manager)
    poison, sound = coming_of(line), coming_of(peer_line)
    real: Any = meetings.invite

    def invite(*, meeting: Meeting, **rest: Any) -> Any:
        if meeting.pk == poison.pk:
            raise ZeroDivisionError
        return real(meeting=meeting, **rest)

    with monkeypatch.context() as patch:
        patch.setattr(meetings, "invite", invite)
        logging.disable(logging.CRITICAL)
        try:
            schedule.run_once(utc(11, 19, 9))
        finally:
            logging.disable(logging.NOTSET)
    poison.refresh_from_db()
    sound.refresh_from_db()
    assert (poison.invited_at, sound.invited_at) == (None, utc(11, 19, 9))
    schedule.run_once(utc(11, 19, 9, 1))
    poison.refresh_from_db()
    assert poison.invited_at == utc(11, 19, 9, 1)
