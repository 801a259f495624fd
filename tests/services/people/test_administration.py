"""What administrators do to accounts and to the server: told, noted, and never to themselves."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from allauth.mfa.models import Authenticator

from accounts.models import Person
from oneonone import clock
from oneonone.models import AuditEvent, ClosingDay, LegalHold, Line, Mail, Meeting, Notice, Organisation
from oneonone.selectors.notices import mail_texts
from oneonone.services.people import administration
from oneonone.services.refusals import NotAllowed, NotNow, NotYourself, OutOfRange, PastDate, Stale
from tests.cast import ClientFor, body_of, queries
from tests.scene import make_line

Act = Callable[..., Any]
ON_SOMEBODY = (
    administration.deactivate,
    administration.reactivate,
    administration.reset_second_factor,
    administration.lift_hold,
)


@pytest.fixture
def organisation(db: None, now: dt.datetime) -> Organisation:
    return Organisation.objects.create(name="Alder Quay Ferries", created_at=now)


def acts_noted() -> list[str]:
    return list(AuditEvent.objects.order_by("at", "pk").values_list("act", flat=True))


@pytest.mark.parametrize("act", [*ON_SOMEBODY, administration.place_hold], ids=lambda act: act.__name__)
def test_nobody_else_does_it(act: Act, report: Person, manager: Person, superuser: Person, now: Any) -> None:
    for actor in (manager, superuser):
        with pytest.raises(NotAllowed):
            act(person=report, actor=actor, now=now)
    assert acts_noted() == []


@pytest.mark.parametrize("act", ON_SOMEBODY, ids=lambda act: act.__name__)
def test_nobody_does_it_to_themselves(act: Act, administrator: Person, now: dt.datetime) -> None:
    with pytest.raises(NotYourself):
        act(person=administrator, actor=administrator, now=now)


def test_an_account_is_closed_and_opened_again(
    report: Person, administrator: Person, line: Line, now: dt.datetime
) -> None:
    administration.deactivate(person=report, actor=administrator, now=now)
    assert not Person.objects.get(pk=report.pk).is_active
    assert line.is_open
    administration.deactivate(person=report, actor=administrator, now=now)
    later = now + dt.timedelta(hours=1)
    administration.reactivate(person=report, actor=administrator, now=later)
    assert Person.objects.get(pk=report.pk).is_active
    assert [act for act in acts_noted() if act.startswith("account")] == [
        "account closed",
        "account opened again",
    ]


def test_a_lost_second_factor_is_reset_and_both_are_told(
    report: Person, administrator: Person, now: dt.datetime, settings: Any
) -> None:
    settings.MAIL_CAN_LEAVE = True
    for kind in ("totp", "recovery_codes"):
        Authenticator.objects.create(user=report, type=kind, data={})
    password = report.password
    assert administration.reset_second_factor(person=report, actor=administrator, now=now) == 1
    report.refresh_from_db()
    assert not Authenticator.objects.filter(user=report).exists()
    assert report.password == password
    told = {mail.to_address: mail_texts.text_of(mail) for mail in Mail.objects.filter(kind=Mail.Kind.ACCOUNT)}
    assert set(told) == {report.email, administrator.email}
    assert administrator.name in told[report.email]
    assert report.name in told[administrator.email]
    event = AuditEvent.objects.get()
    assert (event.actor, event.person, event.facts) == (administrator, report, {"factors": 1})


def test_both_are_told_of_a_reset_second_factor_in_the_app_too_each_time(
    report: Person, administrator: Person, now: dt.datetime, client_for: ClientFor
) -> None:
    for hours in (0, 1):
        Authenticator.objects.create(user=report, type="totp", data={})
        at = now + dt.timedelta(hours=hours)
        administration.reset_second_factor(person=report, actor=administrator, now=at)
    clock.hold_at(now + dt.timedelta(hours=2))
    for reader, words in (
        (report, f"{administrator.name}, an administrator, has taken away your second factors."),
        (administrator, f"You have taken away the second factors of {report.name}."),
    ):
        page = body_of(client_for(reader).get("/"))
        assert page.count(words) == 2 * 2, "in the sentence, and in the name of the button beside it"
    assert set(Notice.objects.values_list("mailed", flat=True)) == {True}, "the account mail has said it"


def test_there_has_to_be_a_second_factor_to_reset(
    report: Person, administrator: Person, now: dt.datetime
) -> None:
    with pytest.raises(NotNow, match="no second factor"):
        administration.reset_second_factor(person=report, actor=administrator, now=now)
    assert not Mail.objects.exists()


def test_a_hold_is_placed_once_and_lifted(report: Person, administrator: Person, now: dt.datetime) -> None:
    administration.place_hold(person=report, actor=administrator, now=now)
    administration.place_hold(person=report, actor=administrator, now=now)
    assert LegalHold.objects.filter(lifted_at__isnull=True).count() == 1
    administration.lift_hold(person=report, actor=administrator, now=now)
    administration.lift_hold(person=report, actor=administrator, now=now)
    assert not LegalHold.objects.filter(lifted_at__isnull=True).exists()
    assert acts_noted().count("legal hold lifted") == 1


def change(organisation: Organisation, actor: Person, now: dt.datetime, **wanted: Any) -> list[str]:
    return administration.change_settings(
        organisation=organisation,
        second_factor_for=wanted.get("second_factor_for", "nobody"),
        lead_needs_confirmed_lines=wanted.get("lead_needs_confirmed_lines", True),
        version=wanted.get("version", organisation.version),
        actor=actor,
        now=now,
    )


def test_settings_are_kept_and_only_what_changed_is_noted(
    organisation: Organisation, administrator: Person, now: dt.datetime
) -> None:
    assert change(organisation, administrator, now, second_factor_for="everybody") == ["second_factor_for"]
    assert organisation.second_factor_for == "everybody"
    assert AuditEvent.objects.get().facts == {"second_factor_for": "everybody"}
    assert change(organisation, administrator, now, second_factor_for="everybody") == []
    assert AuditEvent.objects.count() == 1


def test_settings_that_changed_since_they_were_read_are_not_written_over(
    organisation: Organisation, administrator: Person, now: dt.datetime
) -> None:
    change(organisation, administrator, now, second_factor_for="everybody", version=1)
    with pytest.raises(Stale):
        change(organisation, administrator, now, second_factor_for="nobody", version=1)
    assert organisation.second_factor_for == "everybody"


def test_settings_are_an_administrators_and_one_of_three(
    organisation: Organisation, administrator: Person, manager: Person, now: dt.datetime
) -> None:
    with pytest.raises(NotAllowed):
        change(organisation, manager, now, second_factor_for="everybody")
    with pytest.raises(OutOfRange):
        change(organisation, administrator, now, second_factor_for="some")


def add_day(day: dt.date, actor: Person, now: dt.datetime) -> ClosingDay:
    return administration.add_closing_day(day=day, actor=actor, now=now, today=now.date())


def test_a_meeting_by_interval_moves_out_of_the_way_of_a_closing_day_and_back(
    line: Line, administrator: Person, now: dt.datetime
) -> None:
    meeting = line.meetings.get()
    day = meeting.starts_at.date()
    Meeting.objects.filter(pk=meeting.pk).update(confirmed_at=None, invited_at=None)
    closed = add_day(day, administrator, now)
    meeting.refresh_from_db()
    assert meeting.starts_at.date() > day
    administration.remove_closing_day(closing_day=closed, actor=administrator, now=now)
    meeting.refresh_from_db()
    assert meeting.starts_at.date() == day


def test_instants_around_a_closing_day_are_counted_anew(
    line: Line, meeting: Meeting, administrator: Person, now: dt.datetime
) -> None:
    """Noon three working days before Thursday 3 December, the Tuesday off; two after, the Monday off."""
    closed = [add_day(dt.date(2026, 12, day), administrator, now) for day in (1, 7)]
    meeting.refresh_from_db()
    assert meeting.issue_at == dt.datetime(2026, 11, 27, 12, 0, tzinfo=dt.UTC)
    assert meeting.record_at == dt.datetime(2026, 12, 8, 12, 0, tzinfo=dt.UTC)
    for row in closed:
        administration.remove_closing_day(closing_day=row, actor=administrator, now=now)
    meeting.refresh_from_db()
    assert meeting.issue_at == dt.datetime(2026, 11, 30, 12, 0, tzinfo=dt.UTC)
    assert meeting.record_at == dt.datetime(2026, 12, 7, 12, 0, tzinfo=dt.UTC)


def test_lines_that_a_closing_day_does_not_touch_cost_no_query(
    line: Line,
    peer_line: Line,
    other_line: Line,
    manager: Person,
    outsider: Person,
    administrator: Person,
    now: dt.datetime,
) -> None:
    with queries() as few:
        add_day(dt.date(2027, 8, 2), administrator, now)
    make_line(manager, outsider, actor=administrator)
    with queries() as more:
        add_day(dt.date(2027, 8, 3), administrator, now)
    assert len(more) == len(few)


def test_a_closing_day_is_in_the_time_ahead_and_noted_once(
    administrator: Person, manager: Person, now: dt.datetime
) -> None:
    add_day(dt.date(2026, 12, 28), administrator, now)
    with pytest.raises(OutOfRange, match="not on the list yet"):
        add_day(dt.date(2026, 12, 28), administrator, now)
    with pytest.raises(PastDate):
        add_day(dt.date(2026, 11, 24), administrator, now)
    with pytest.raises(OutOfRange):
        add_day(dt.date(2036, 1, 1), administrator, now)
    with pytest.raises(NotAllowed):
        add_day(dt.date(2026, 12, 29), manager, now)
    assert ClosingDay.objects.count() == 1
