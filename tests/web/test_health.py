"""What whoever watches the server is told: by any name, without a secret, and with a status to act on."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import OperationalError, connection
from django.test import Client
from django.urls import reverse
from pytest_django import Settings

from accounts.models import Person
from oneonone import clock
from oneonone.models import Deferral, JobHealth, Line, Mail
from oneonone.services.notices import job_queue
from tests.cast import ClientFor

MINUTE = dt.timedelta(minutes=1)


@contextmanager
def database_away() -> Iterator[None]:
    def refuse(*args: Any) -> None:
        raise OperationalError("could not connect to db.example.org as oneonone")

    with connection.execute_wrapper(refuse):
        yield


def asked(path: str, **headers: str) -> tuple[int, dict[str, Any]]:
    answer = Client().get(path, **headers)  # type: ignore[arg-type]
    assert answer["Cache-Control"] == "no-store"
    return answer.status_code, answer.json()


def test_the_process_answers_without_asking_the_database() -> None:
    with database_away():
        assert asked("/health/live") == (200, {"alive": True})


@pytest.mark.django_db
@pytest.mark.parametrize("host", ["10.0.0.7:8000", "probe", "evil@example.org"])
def test_by_any_name_over_plain_http(host: str, settings: Settings, held_clock: dt.datetime) -> None:
    settings.SECURE_SSL_REDIRECT = True
    for path in ("/health/live", "/health/ready"):
        assert asked(path, HTTP_HOST=host)[0] == 200


@pytest.mark.django_db
def test_ready_tells_of_the_database_and_how_long_the_jobs_have_been_silent(held_clock: dt.datetime) -> None:
    assert asked("/health/ready")[1] == {
        "database": True,
        "jobs_late": True,
        "seconds_since_jobs_ran": None,
    }
    job_queue.succeeded(job=JobHealth.RUN, now=held_clock - MINUTE)
    assert asked("/health/ready") == (
        200,
        {"database": True, "jobs_late": False, "seconds_since_jobs_ran": 60},
    )


@pytest.mark.django_db
@pytest.mark.parametrize("path", ["/health/ready", "/health/jobs"])
def test_without_a_database_it_is_not_ready_and_tells_nothing_of_it(path: str) -> None:
    with database_away():
        assert asked(path) == (503, {"database": False})


@pytest.mark.django_db
def test_the_jobs_are_missed_after_three_minutes(held_clock: dt.datetime) -> None:
    job_queue.succeeded(job=JobHealth.RUN, now=held_clock - 3 * MINUTE)
    assert asked("/health/jobs")[0] == 200
    call_command("jobs", "health")
    clock.hold_at(held_clock + dt.timedelta(seconds=1))
    assert asked("/health/jobs")[0] == 503
    with pytest.raises(CommandError) as late:
        call_command("jobs", "health")
    assert late.value.returncode == 1


def test_nothing_is_posted_to_them_and_no_other_path_is_taken() -> None:
    assert Client().post("/health/live").status_code == 405
    assert Client().get("/health/live/more").status_code == 404


@pytest.mark.django_db
def test_an_administrator_sees_what_is_owed_sent_failed_and_set_aside(
    line: Line,
    administrator: Person,
    client_for: ClientFor,
    held_clock: dt.datetime,
    settings: Settings,
) -> None:
    settings.MAIL_CAN_LEAVE = True
    job_queue.succeeded(job=JobHealth.RUN, now=held_clock)
    job_queue.push_forward(job="invite", subject=line.pk, now=held_clock, error="ZeroDivisionError")
    client = client_for(administrator)
    page = client.get(reverse("background")).content.decode()
    for said in ("Last run:", "Sent in the last day:", "ZeroDivisionError", str(line.pk), "once"):
        assert said in page
    client.post(reverse("background-try-again", args=[Deferral.objects.get().pk]))
    assert not Deferral.objects.exists()
    client.post(reverse("background-test-mail"))
    mail = Mail.objects.get()
    assert (mail.subject, mail.to_address, mail.state) == ("Test mail", administrator.email, "queued")
    assert "the oldest due since" in client.get(reverse("background")).content.decode()


@pytest.mark.django_db
def test_without_a_mail_server_a_test_mail_is_refused(
    administrator: Person, client_for: ClientFor, settings: Settings
) -> None:
    settings.MAIL_CAN_LEAVE = False
    page = client_for(administrator).post(reverse("background-test-mail"), follow=True)
    assert "There is no mail server" in page.content.decode()
    assert not Mail.objects.exists()
