"""Settings: one's own, changed by oneself, refused at the field with what was typed."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from accounts.models import DayAway, Person
from oneonone import clock
from oneonone.models import AuditEvent, Line
from tests.cast import ClientFor, assert_not_sees, assert_same_bytes, assert_sees, body_of, queries
from tests.web.account.markup import forbidden

PROFILE = {
    "name": "Bea Moreau",
    "zone": "Europe/London",
    "working_week": ["0", "1", "2", "3", "4"],
    "country": "",
    "subdivision": "",
    "wants_mail": "on",
    "single_keys": "on",
    "quiet_from": "20:00",
    "quiet_to": "07:00",
}


@pytest.fixture
def bea(client_for: ClientFor, outsider: Person) -> Client:
    """Bea's browser, on Wednesday 25 November 2026."""
    return client_for(outsider)


def test_all_settings_stand_on_one_page(bea: Client) -> None:
    response = bea.get("/settings/")
    assert_sees(response, "Bea Moreau")
    assert_sees(response, "bea.moreau@example.org")
    page = body_of(response)
    for name in ("account_email", "account_set_password", "mfa_index", "sessions", "privacy"):
        assert f'href="{reverse(name)}"' in page
    assert forbidden(page) == []


def test_a_profile_is_kept_and_what_changed_is_noted_without_its_values(
    bea: Client, outsider: Person
) -> None:
    changed = {
        "name": "Béatrice Moreau",
        "zone": "Europe/Paris",
        "working_week": ["0", "1", "3"],
        "country": "GB",
        "quiet_from": "19:30",
    }
    sent = PROFILE | changed
    del sent["wants_mail"], sent["single_keys"]
    assert bea.post("/settings/profile/", sent)["Location"] == "/settings/"
    outsider.refresh_from_db()
    assert (outsider.name, outsider.zone, outsider.working_week) == (
        "Béatrice Moreau",
        "Europe/Paris",
        "1101000",
    )
    assert (outsider.country, outsider.quiet_from) == ("GB", dt.time(19, 30))
    assert not outsider.wants_mail
    assert not outsider.single_keys
    event = AuditEvent.objects.get(act="profile changed")
    assert set(event.facts["fields"].split(", ")) == {
        "name",
        "zone",
        "working_week",
        "country",
        "wants_mail",
        "single_keys",
        "quiet_from",
    }
    assert "Paris" not in str(event.facts)
    assert_sees(bea.get("/settings/"), "Your settings are saved.")


def test_sent_twice_it_changes_once(bea: Client) -> None:
    for _ in range(2):
        assert bea.post("/settings/profile/", PROFILE | {"zone": "Europe/Paris"}).status_code == 302
    assert AuditEvent.objects.filter(act="profile changed").count() == 1


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"name": ""}, "Enter something here."),
        ({"name": "x" * 121}, "At most 120 characters"),
        ({"name": "Bea\u202eMoreau"}, "One line of 1 to 120 characters, without control characters."),
        ({"name": "Bea\u2028Moreau"}, "without control characters"),
        ({"zone": "Europe/Alder"}, "“Europe/Alder” is not offered"),
        ({"working_week": []}, "Choose at least one day of work."),
        ({"working_week": ["7"]}, "“7” is not offered"),
        ({"country": "ZZ"}, "“ZZ” is not offered"),
        ({"country": "", "subdivision": "ENG"}, "“ENG” is not offered"),
        ({"quiet_from": "25:00"}, "not a time"),
    ],
)
def test_a_refusal_names_the_field_keeps_what_was_typed_and_changes_nothing(
    bea: Client, outsider: Person, changed: dict[str, Any], message: str
) -> None:
    response = bea.post("/settings/profile/", PROFILE | {"quiet_to": "06:45"} | changed)
    assert response.status_code == 422
    page = body_of(response)
    assert message in page
    assert 'value="06:45"' in page
    outsider.refresh_from_db()
    assert outsider.quiet_to == dt.time(7)


def test_parts_are_those_of_the_country_and_go_with_it(bea: Client, outsider: Person) -> None:
    bea.post("/settings/profile/", PROFILE | {"country": "GB", "subdivision": "SCT"})
    outsider.refresh_from_db()
    assert (outsider.country, outsider.subdivision) == ("GB", "SCT")
    assert_sees(bea.get("/settings/"), "Scotland")
    bea.post("/settings/profile/", PROFILE | {"country": "DE", "subdivision": "SCT"})
    outsider.refresh_from_db()
    assert (outsider.country, outsider.subdivision) == ("DE", "")


def test_nobody_makes_themselves_an_administrator(bea: Client, outsider: Person) -> None:
    more = {"is_administrator": "on", "is_staff": "on", "email": "root@example.org", "id": "x"}
    bea.post("/settings/profile/", PROFILE | more)
    outsider.refresh_from_db()
    assert not outsider.is_administrator
    assert not outsider.is_staff
    assert outsider.email == "bea.moreau@example.org"


def test_days_away_are_noted_shown_and_taken_back(bea: Client, outsider: Person) -> None:
    sent = {"first": "2026-12-24", "last": "2027-01-03", "reason": "something private"}
    assert bea.post("/settings/days-away/", sent)["Location"] == "/settings/"
    away = DayAway.objects.get(person=outsider)
    assert (away.first, away.last) == (dt.date(2026, 12, 24), dt.date(2027, 1, 3))
    assert_sees(bea.get("/settings/"), "Remove")
    assert bea.post(f"/settings/days-away/{away.pk}/remove/")["Location"] == "/settings/"
    assert not DayAway.objects.exists()
    assert not AuditEvent.objects.filter(act__contains="away").exists()


def test_one_day_needs_one_date(bea: Client) -> None:
    bea.post("/settings/days-away/", {"first": "2026-12-24", "last": ""})
    assert DayAway.objects.get().last == dt.date(2026, 12, 24)


@pytest.mark.parametrize(
    ("sent", "message"),
    [
        ({"first": "", "last": "2026-12-24"}, "Enter a date"),
        ({"first": "2026-12-24", "last": "2026-12-23"}, "The last day is before the first."),
        ({"first": "2026-11-20", "last": "2026-11-24"}, "These days have passed."),
        ({"first": "2026-12-01", "last": "2027-12-02"}, "At most 366 days in one entry"),
        ({"first": "24/13/2026"}, "not a date"),
    ],
)
def test_days_that_cannot_be_are_refused_at_their_field(
    bea: Client, sent: dict[str, str], message: str
) -> None:
    response = bea.post("/settings/days-away/", sent)
    assert response.status_code == 422
    page = body_of(response)
    assert message in page
    assert all(f'value="{typed}"' in page for typed in sent.values() if typed)
    assert not DayAway.objects.exists()


def test_today_is_the_persons_own_day(bea: Client, outsider: Person) -> None:
    """At 10:00 UTC on 25 November it is 26 November in Kiritimati already (UTC+14)."""
    Person.objects.filter(pk=outsider.pk).update(zone="Pacific/Kiritimati")
    assert bea.post("/settings/days-away/", {"first": "2026-11-25"}).status_code == 422
    assert bea.post("/settings/days-away/", {"first": "2026-11-26"}).status_code == 302


def test_the_same_days_twice_are_one_entry(bea: Client) -> None:
    bea.post("/settings/days-away/", {"first": "2026-12-24"})
    assert bea.post("/settings/days-away/", {"first": "2026-12-24"}).status_code == 422
    assert DayAway.objects.count() == 1


def test_days_that_are_over_no_longer_show(bea: Client) -> None:
    bea.post("/settings/days-away/", {"first": "2026-12-24"})
    clock.hold_at(dt.datetime(2026, 12, 25, 9, 0, tzinfo=dt.UTC))
    assert_not_sees(bea.get("/settings/"), "Remove")


def test_a_loose_meeting_moves_out_of_the_way_of_days_away(
    client_for: ClientFor, line: Line, report: Person
) -> None:
    meeting = line.meetings.get()
    assert meeting.starts_at == dt.datetime(2026, 12, 3, 10, 0, tzinfo=dt.UTC)
    meeting.invited_at = meeting.confirmed_at = None
    meeting.save()
    client_for(report).post("/settings/days-away/", {"first": "2026-12-03", "last": "2026-12-04"})
    meeting.refresh_from_db()
    assert meeting.starts_at == dt.datetime(2026, 12, 7, 10, 0, tzinfo=dt.UTC)


def test_other_peoples_days_away_are_as_missing_as_none(
    bea: Client, report: Person, administrator: Person, client_for: ClientFor
) -> None:
    away = DayAway.objects.create(person=report, first=dt.date(2026, 12, 24), last=dt.date(2026, 12, 24))
    unknown = "/settings/days-away/0a1b2c3d-0000-4000-8000-000000000001/remove/"
    for browser in (bea, client_for(administrator)):
        browser.get("/privacy/")  # the first visit notes the session
        with queries() as hidden:
            one = browser.post(f"/settings/days-away/{away.pk}/remove/")
        with queries() as missing:
            other = browser.post(unknown)
        assert one.status_code == 404
        assert_same_bytes(one, other)
        assert len(hidden) == len(missing)
    assert DayAway.objects.count() == 1
    assert bea.post("/settings/days-away/17/remove/").status_code == 404


@pytest.mark.parametrize("path", ["/settings/profile/", "/settings/days-away/"])
def test_acts_answer_no_visit(bea: Client, path: str) -> None:
    assert bea.get(path).status_code == 405
    assert bea.post("/settings/").status_code == 405


@pytest.mark.parametrize("path", ["/settings/", "/settings/profile/", "/settings/days-away/"])
def test_nobody_is_sent_to_sign_in(client: Client, db: None, path: str) -> None:
    method = client.get if path == "/settings/" else client.post
    assert method(path)["Location"].startswith("/account/login/")


def test_the_page_costs_the_same_with_many_days_away(bea: Client, outsider: Person) -> None:
    bea.get("/settings/")  # the first visit notes the session
    counts = []
    for month in (1, 2):
        for day in range(1, 15):
            DayAway.objects.create(
                person=outsider, first=dt.date(2027, month, day), last=dt.date(2027, month, day)
            )
        with queries() as made:
            bea.get("/settings/")
        counts.append(len(made))
    assert counts[0] == counts[1]
