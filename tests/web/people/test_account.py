"""The administrator's page of one account, and the pages of the server's settings and of what was done."""

from __future__ import annotations

import datetime as dt
import re
import time
from pathlib import Path
from typing import Any

import pytest
from allauth.mfa.models import Authenticator
from django.test import Client
from django.urls import reverse

from accounts.models import Person
from oneonone.models import AuditEvent, ClosingDay, LegalHold, Line, Organisation
from oneonone.services import audit
from oneonone.services.people import administration
from oneonone.web.people.audit_wording import ACTS as WORDS
from tests.cast import NOW, ClientFor, assert_not_sees, assert_same_bytes, assert_sees, queries
from tests.web.account.doorstep import PASSWORD

ACTS = ("account-close", "account-factor", "account-password", "account-erase")


@pytest.fixture(autouse=True)
def erasure_list(settings: Any, tmp_path: Path) -> None:
    settings.ERASURE_LIST = tmp_path / "erasures.jsonl"


@pytest.fixture
def organisation(db: None) -> Organisation:
    return Organisation.objects.create(name="Alder Quay Ferries", created_at=NOW)


@pytest.fixture
def nils(administrator: Person, client_for: ClientFor) -> Client:
    """The administrator's browser; he has a password and has just given it."""
    administrator.set_password(PASSWORD)
    administrator.save()
    client = client_for(administrator)
    client.post("/account/reauthenticate/", {"password": PASSWORD})
    return client


def at(name: str, person: Person) -> str:
    return reverse(name, args=[person.pk])


@pytest.mark.parametrize("name", ["account", *ACTS])
@pytest.mark.parametrize("who", ["manager", "staff", "superuser", "report"])
def test_to_everybody_else_there_is_no_such_page(
    name: str, who: str, report: Person, request: pytest.FixtureRequest, client_for: ClientFor
) -> None:
    client = client_for(request.getfixturevalue(who))
    for answer in (client.get(at(name, report)), client.post(at(name, report))):
        assert answer.status_code in (404, 405)
    assert_same_bytes(client.get(at(name, report)), client.get("/nothing/here/"))


@pytest.mark.parametrize("name", ACTS)
def test_each_act_asks_who_it_is_first_and_then_goes_on(
    name: str, report: Person, administrator: Person, client_for: ClientFor
) -> None:
    Authenticator.objects.create(user=report, type="totp", data={})
    administrator.set_password(PASSWORD)
    administrator.save()
    client = client_for(administrator)
    for answer in (client.get(at(name, report)), client.post(at(name, report))):
        assert (answer.status_code, answer["Location"].split("?")[0]) == (302, "/account/reauthenticate/")
    report.refresh_from_db()
    assert report.is_active
    assert report.name
    client.post("/account/reauthenticate/", {"password": PASSWORD})
    assert client.get(at(name, report)).status_code == 200


def test_what_was_sent_before_being_asked_is_done_after_it(
    report: Person, administrator: Person, client_for: ClientFor
) -> None:
    administrator.set_password(PASSWORD)
    administrator.save()
    client = client_for(administrator)
    asked = client.post(at("account-close", report))
    client.post(asked["Location"], {"password": PASSWORD})
    report.refresh_from_db()
    assert not report.is_active


def test_after_five_minutes_it_is_asked_again(nils: Client, report: Person, monkeypatch: Any) -> None:
    assert nils.get(at("account-close", report)).status_code == 200
    real = time.time
    monkeypatch.setattr(time, "time", lambda: real() + 301)
    assert nils.get(at("account-close", report)).status_code == 302


def test_the_page_shows_ways_in_and_nothing_of_what_is_written(
    nils: Client, report: Person, line: Line
) -> None:
    page = nils.get(at("account", report))
    assert_sees(page, "Tomas Lindqvist")
    assert_sees(page, report.email)
    assert_sees(page, "Close the account")
    assert_not_sees(page, "Remove the second factors")  # there is none


def test_ones_own_account_has_no_acts(nils: Client, administrator: Person) -> None:
    page = nils.get(at("account", administrator))
    assert_sees(page, "This is your own account")
    assert_not_sees(page, "Close the account")
    nils.post(at("account-close", administrator))
    administrator.refresh_from_db()
    assert administrator.is_active


def test_closing_ends_every_session_at_once_and_opening_brings_none_back(
    nils: Client, report: Person, client_for: ClientFor
) -> None:
    theirs = client_for(report)
    assert theirs.get("/").status_code == 200
    nils.post(at("account-close", report))
    assert theirs.get("/").status_code == 302
    nils.post(at("account-reopen", report))
    report.refresh_from_db()
    assert report.is_active
    assert theirs.get("/").status_code == 302


def test_a_second_factor_is_reset(nils: Client, report: Person, client_for: ClientFor) -> None:
    Authenticator.objects.create(user=report, type="totp", data={})
    theirs = client_for(report)
    assert_sees(nils.get(at("account-factor", report)), "Remove the second factors of Tomas Lindqvist?")
    nils.post(at("account-factor", report))
    assert not Authenticator.objects.filter(user=report).exists()
    assert theirs.get("/").status_code == 302


def test_erasing_is_confirmed_done_and_the_page_is_gone(nils: Client, report: Person, line: Line) -> None:
    assert_sees(nils.get(at("account-erase", report)), "Erase Tomas Lindqvist for good?")
    report.refresh_from_db()
    assert report.name
    answer = nils.post(at("account-erase", report), follow=True)
    assert_sees(answer, "The person is erased.")
    assert_not_sees(answer, "Tomas")
    assert nils.get(at("account", report)).status_code == 404


def test_a_hold_stands_in_the_way_until_it_is_lifted(nils: Client, report: Person) -> None:
    nils.post(at("account-hold", report))
    assert LegalHold.objects.filter(person=report, lifted_at__isnull=True).exists()
    answer = nils.post(at("account-erase", report), follow=True)
    assert_sees(answer, "A legal hold is open for this person")
    assert_not_sees(nils.get(at("account", report)), "Erase the person")
    nils.post(at("account-hold-lift", report))
    nils.post(at("account-erase", report))
    report.refresh_from_db()
    assert report.erased_at is not None


def test_settings_are_shown_kept_and_refused(nils: Client, organisation: Organisation) -> None:
    url = reverse("server-settings")
    assert_sees(nils.get(url), "required for administrators")
    form = {"second_factor_for": "nobody", "lead_needs_confirmed_lines": "", "version": "1"}
    assert nils.post(url, form).status_code == 302
    organisation.refresh_from_db()
    assert not organisation.lead_needs_confirmed_lines
    assert nils.post(url, {**form, "second_factor_for": "some", "version": "2"}).status_code == 422
    late = nils.post(url, {**form, "lead_needs_confirmed_lines": "on", "version": "1"})
    assert late.status_code == 412
    assert "leads see every line below them" in late.content.decode()
    organisation.refresh_from_db()
    assert not organisation.lead_needs_confirmed_lines


def test_closing_days_are_noted_and_taken_back(nils: Client, organisation: Organisation) -> None:
    add = reverse("closing-day-add")
    assert nils.post(add, {"day": "2026-12-28"}).status_code == 302
    assert_sees(nils.get(reverse("server-settings")), "28 December 2026")
    refused = nils.post(add, {"day": "2026-11-01"})
    assert refused.status_code == 422
    assert 'value="2026-11-01"' in refused.content.decode()
    nils.post(reverse("closing-day-remove", args=[ClosingDay.objects.get().pk]))
    assert not ClosingDay.objects.exists()


def test_what_was_done_is_told_in_words_newest_first(
    nils: Client, report: Person, line: Line, administrator: Person
) -> None:
    nils.post(at("account-close", report))
    page = nils.get(reverse("audit"))
    for words in ("closed the account", "added a line", "Ines Okafor and Tomas Lindqvist"):
        assert_sees(page, words)
    body = page.content.decode()
    assert body.index("closed the account") < body.index("added a line")


def test_it_can_be_asked_about_one_person_and_for_a_page(
    nils: Client, report: Person, manager: Person, administrator: Person
) -> None:
    for number in range(60):
        audit.note(actor=manager, act="signed in", person=manager, now=NOW + dt.timedelta(minutes=number))
    administration.deactivate(person=report, actor=administrator, now=NOW)
    url = reverse("audit")
    assert_not_sees(nils.get(url), "closed the account")
    assert_sees(nils.get(url, {"page": "2"}), "closed the account")
    about = nils.get(url, {"person": str(report.pk)})
    assert_sees(about, "closed the account")
    assert_not_sees(about, "Ines Okafor")
    assert nils.get(url, {"person": "nobody"}).status_code == 404


def test_lines_of_somebody_alone_are_not_in_it(nils: Client, line: Line, manager: Person) -> None:
    alone = Line.objects.create(
        manager=manager, report_name="Jon Sedge", start="alone", starts_on=NOW.date(),
        created_by=manager, created_at=NOW,
    )  # fmt: skip
    audit.note(actor=manager, act="line made", subject=alone.pk, now=NOW)
    assert_not_sees(nils.get(reverse("audit")), "Jon Sedge")
    assert nils.get(reverse("audit")).content.decode().count("added a line") == 1


def test_every_act_that_is_noted_has_words(db: None) -> None:
    """An act without words would be shown by its bare name: found in the source, not remembered."""
    noted = set()
    for file in Path("oneonone").rglob("*.py"):
        for call in re.findall(r"audit\.note\((.*?)\)\n", file.read_text(), re.DOTALL):
            noted.update(re.findall(r'act="([^"]+)"', call))
    assert len(noted) > 15
    assert noted - set(WORDS) == set()


def test_the_queries_do_not_grow_with_the_acts(nils: Client, manager: Person, report: Person) -> None:
    def cost() -> int:
        with queries() as made:
            nils.get(reverse("audit"))
        return len(made)

    audit.note(actor=manager, act="account closed", person=report, now=NOW)
    few = cost()
    for _ in range(20):
        audit.note(actor=report, act="account closed", person=manager, now=NOW)
    assert cost() == few
    assert AuditEvent.objects.count() >= 21
