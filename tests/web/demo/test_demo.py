"""The pages of the demo: everybody opens what is theirs, the clock is moved on, and the mails are read."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.core.mail import EmailMessage, get_connection
from django.db import transaction
from django.http import HttpResponse
from django.test import Client, override_settings
from django.urls import reverse
from pytest_django import DjangoDbBlocker, Settings

from accounts.models import Person
from oneonone import clock
from oneonone.models import Line, Meeting
from oneonone.selectors.notices.due_instants import Fell
from oneonone.services import demo
from oneonone.web.demo.demo_views import what_fell_due
from tests.cast import assert_sees

EARLY = dt.datetime(2026, 11, 25, 7, 5, tzinfo=dt.UTC)


@pytest.fixture(scope="module")
def loaded(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[None]:
    """The demo, first started on Wednesday 25 November 2026 at 07:05."""
    with django_db_blocker.unblock(), override_settings(DEMO=True), transaction.atomic():
        demo.load(EARLY)
        yield
        transaction.set_rollback(True)


@pytest.fixture
def company(loaded: None, db: None, settings: Settings, tmp_path: Path) -> Path:
    """The demo being served; gives the folder its mails lie in."""
    settings.DEMO = True
    settings.ROOT_URLCONF = "tests.web.demo_urls"
    settings.MAIL_FOLDER = tmp_path / "mail"
    clock.hold_at(EARLY)
    return tmp_path / "mail"


def browser_of(name: str) -> Client:
    client = Client()
    client.force_login(Person.objects.get(name=name))
    return client


def status(client: Client, route: str, **ids: object) -> int:
    return client.get(reverse(route, kwargs=ids)).status_code


def test_every_person_opens_the_places_that_everybody_has(company: Path) -> None:
    for person in Person.objects.all():
        client = browser_of(person.name)
        found = {route: status(client, route) for route in ("next", "lines", "cadence", "settings")}
        found |= {route: status(client, route) for route in ("contacts", "privacy")}
        assert set(found.values()) == {200}, (person.name, found)


def test_every_person_opens_each_of_their_lines_and_the_meetings_on_them(company: Path) -> None:
    for person in Person.objects.all():
        client = browser_of(person.name)
        for line in Line.objects.visible_to(person):
            assert status(client, "line", line_id=line.pk) == 200, person.name
        seen = Meeting.objects.visible_to(person)
        for meeting in seen.filter(state__in=(Meeting.State.PLANNED, Meeting.State.ISSUED)):
            assert status(client, "meeting", meeting_id=meeting.pk) == 200, person.name
        for meeting in seen.filter(state=Meeting.State.CLOSED).order_by("-starts_at")[:2]:
            assert status(client, "record", meeting_id=meeting.pk) == 200, person.name


def test_the_agenda_of_the_day_says_how_obstacles_have_run(company: Path) -> None:
    meeting = Meeting.objects.get(line__report__name="Tomas Lindqvist", state=Meeting.State.ISSUED)
    for name in ("Ines Okafor", "Tomas Lindqvist"):
        page = browser_of(name).get(reverse("meeting", args=[meeting.pk]))
        assert_sees(page, "obstacles here usually take 30 % longer than asked")


def test_only_the_administrator_opens_people_and_the_mails(company: Path) -> None:
    for person in Person.objects.all():
        client = browser_of(person.name)
        expected = 200 if person.is_administrator else 404
        assert [status(client, "people"), status(client, "demo-mail")] == [expected, expected], person.name


def test_a_newcomer_signs_in_with_what_the_terminal_says(company: Path) -> None:
    account = demo.people()[0]
    client = Client()
    answer = client.post(
        reverse("account_login"), {"login": account.email, "password": demo.PASSWORD}, follow=True
    )
    assert_sees(answer, "Tomas Lindqvist")
    assert_sees(answer, "Alder Quay Ferries")


@pytest.mark.parametrize("path", ["/", "/account/login/", "/demo/mail/", "/no/such/page/"])
def test_a_forged_host_is_refused(company: Path, path: str) -> None:
    forged = Client(headers={"Host": "evil.example"}, raise_request_exception=False)
    assert [forged.get(path).status_code, forged.post(path).status_code] == [400, 400]


# --- the clock


def push(client: Client, step: str, **headers: str) -> HttpResponse:
    answer = client.post(reverse("demo-move-on"), {"step": step}, headers=headers)
    assert isinstance(answer, HttpResponse)
    return answer


@pytest.mark.parametrize(
    ("step", "then"),
    [
        ("day", dt.datetime(2026, 11, 26, 7, 5, tzinfo=dt.UTC)),
        ("week", dt.datetime(2026, 12, 2, 7, 5, tzinfo=dt.UTC)),
    ],
)
def test_the_clock_moves_on_and_the_page_says_what_happened(
    company: Path, step: str, then: dt.datetime
) -> None:
    client = browser_of("Ines Okafor")
    answer = push(client, step, referer="http://testserver/one-on-ones/")
    assert (answer.status_code, answer["Location"]) == (302, "http://testserver/one-on-ones/")
    assert clock.now() == then
    page = client.get(reverse("next"))
    assert_sees(page, "It is now")
    assert_sees(page, "On the way:")


def test_the_next_event_is_named_and_is_not_the_same_again(company: Path) -> None:
    client = browser_of("Ines Okafor")
    push(client, "event")
    first = clock.now()
    push(client, "event")
    assert EARLY < first < clock.now()


def test_another_step_moves_nothing_and_says_what_there_is(company: Path) -> None:
    client = browser_of("Ines Okafor")
    assert push(client, "year").status_code == 302
    assert clock.now() == EARLY
    assert_sees(client.get(reverse("next")), "The clock was not moved.")


def test_nobody_is_sent_to_another_site(company: Path) -> None:
    answer = push(browser_of("Ines Okafor"), "day", referer="https://elsewhere.example.com/")
    assert answer["Location"] == "/"


def test_the_clock_is_moved_by_a_post_only_and_before_signing_in_too(company: Path) -> None:
    assert Client().get(reverse("demo-move-on")).status_code == 405
    assert push(Client(), "day").status_code == 302
    assert clock.now() == EARLY + dt.timedelta(days=1)


def test_a_post_without_a_token_of_the_form_moves_nothing(company: Path) -> None:
    client = Client(enforce_csrf_checks=True)
    assert client.post(reverse("demo-move-on"), {"step": "day"}).status_code == 403
    assert clock.now() == EARLY


# --- what it says


def test_what_fell_due_is_told_in_numbers_and_nothing_is_said_to_be_nothing() -> None:
    fell = Fell(notices={"invite": 2, "today": 1, "joined": 1}, orders=1, carries=3, mails=2)
    assert what_fell_due(fell) == (
        "On the way: 2 invitations for topics, 1 reminder of the day, 1 order was issued,"
        " 3 commitments were carried on, 2 mails went out."
    )
    assert what_fell_due(Fell({}, 0, 0, 0)) == "Nothing fell due on the way."


# --- the mails


def test_the_administrator_reads_what_would_have_been_sent_newest_first(company: Path) -> None:
    client = browser_of("Nils Haverkamp")
    assert_sees(client.get(reverse("demo-mail")), "No mail has gone out yet")
    with get_connection("oneonone.mailfolder.EmailBackend") as folder:
        for number in range(21):
            EmailMessage(
                f"Letter {number:02}",
                "Bring <a coat> to the pier.",
                "office@example.org",
                ["tomas@example.org"],
                headers={"Date": f"Wed, 25 Nov 2026 10:{number:02}:00 +0000"},
                connection=folder,
            ).send()
    page = client.get(reverse("demo-mail"))
    assert_sees(page, "Letter 20")
    assert_sees(page, "Bring <a coat> to the pier.")
    assert b"<a coat>" not in page.content
    assert b"Letter 00" not in page.content
    assert_sees(client.get(reverse("demo-mail"), {"page": 3}), "Letter 00")


def test_the_mails_to_one_person_are_read_by_themselves(company: Path) -> None:
    client = browser_of("Nils Haverkamp")
    with get_connection("oneonone.mailfolder.EmailBackend") as folder:
        for name in ("tomas", "ines"):
            to = [f"{name}@example.org"]
            EmailMessage(f"To {name}", "Bring a coat.", "office@example.org", to, connection=folder).send()
    page = client.get(reverse("demo-mail"), {"to": "ines@example.org"})
    assert_sees(page, "To ines")
    assert b"To tomas" not in page.content
    assert b"To tomas" in client.get(reverse("demo-mail"), {"to": "nobody@example.org"}).content
