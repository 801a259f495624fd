"""Mails made from notices: one of reminders a person and day, at their hour, for whoever wants it."""

from __future__ import annotations

import datetime as dt
from uuid import uuid4

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from pytest_django import Settings

from accounts.models import Person
from accounts.services import invitations
from oneonone.models import Mail, Notice
from oneonone.selectors.notices import mail_texts
from oneonone.services.notices import mail_wishes, mails, notices
from oneonone.services.refusals import OutOfRange

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def mail_server(settings: Settings) -> None:
    """Mail can leave."""
    settings.MAIL_CAN_LEAVE = True


def owe(person: Person, now: dt.datetime, **more: object) -> Notice:
    return notices.owe(kind="joined", person=person, subject=uuid4(), now=now, **more)  # type: ignore[arg-type]


def gather(now: dt.datetime) -> int:
    return len(list(mails.GATHER.each(now, most=100)))


def at(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text).replace(tzinfo=dt.UTC)


def digests(person: Person) -> list[tuple[dt.date | None, dt.datetime, int]]:
    mails_of = Mail.objects.filter(kind="digest", person=person).order_by("local_day")
    return [(mail.local_day, mail.not_before, mail.notices.count()) for mail in mails_of]


def test_what_is_owed_goes_into_one_mail_a_person_at_the_next_eight_o_clock(
    manager: Person, report: Person, now: dt.datetime
) -> None:
    for person in (manager, manager, report):
        owe(person, now)
    assert gather(now) == 3
    assert digests(manager) == [(dt.date(2026, 11, 26), at("2026-11-26 08:00"), 2)]
    assert digests(report) == [(dt.date(2026, 11, 26), at("2026-11-26 08:00"), 1)]


def test_gathering_twice_changes_nothing(manager: Person, now: dt.datetime) -> None:
    owe(manager, now)
    gather(now)
    before = list(Mail.objects.values())
    assert gather(now) == 0
    assert list(Mail.objects.values()) == before


def test_many_are_gathered_in_as_many_statements_as_a_few(
    manager: Person, report: Person, peer: Person, lead: Person, now: dt.datetime
) -> None:
    asked = []
    for people in ((manager, report), (manager, report, peer, lead)):
        for person in people:
            owe(person, now)
            owe(person, now, at_once=True)
        with CaptureQueriesContext(connection) as captured:
            gather(now)
        asked.append(len(captured))
    assert asked[0] == asked[1]


def test_more_is_added_until_the_mail_has_gone_and_then_waits_for_the_next_day(
    manager: Person, now: dt.datetime
) -> None:
    owe(manager, now)
    gather(now)
    owe(manager, now)
    gather(now)
    morning = at("2026-11-26 08:00")
    assert digests(manager) == [(dt.date(2026, 11, 26), morning, 2)]
    Mail.objects.update(state="sent")
    for _time in range(2):
        owe(manager, morning)
        gather(morning)
    assert digests(manager)[1:] == [(dt.date(2026, 11, 27), at("2026-11-27 08:00"), 2)]


def test_each_chooses_the_hour_by_their_own_clocks(manager: Person, now: dt.datetime) -> None:
    """17:30 in Noumea, eleven hours ahead, is 06:30 UTC: at 10:00 UTC the next one is tomorrow's."""
    manager.zone = "Pacific/Noumea"
    manager.save(update_fields=["zone"])
    mail_wishes.change(actor=manager, digest_at=dt.time(17, 30), off=[], now=now)
    owe(manager, now)
    gather(now)
    assert digests(manager) == [(dt.date(2026, 11, 26), at("2026-11-26 06:30"), 1)]


def test_an_hour_within_the_quiet_ones_waits_for_their_end(manager: Person, now: dt.datetime) -> None:
    mail_wishes.change(actor=manager, digest_at=dt.time(5), off=[], now=now)
    owe(manager, now)
    gather(now)
    assert digests(manager) == [(dt.date(2026, 11, 26), at("2026-11-26 07:00"), 1)]


def test_a_reminder_of_the_day_sends_the_days_mail_early_with_all_that_waits(
    manager: Person, now: dt.datetime
) -> None:
    mail_wishes.change(actor=manager, digest_at=dt.time(17), off=[], now=now)
    owe(manager, now)
    gather(now)
    assert digests(manager) == [(now.date(), at("2026-11-25 17:00"), 1)]
    notices.owe(kind="today", person=manager, subject=uuid4(), now=now)
    gather(now)
    assert digests(manager) == [(now.date(), now, 2)]


def test_what_somebody_wants_no_mail_about_stays_in_the_app(manager: Person, now: dt.datetime) -> None:
    mail_wishes.change(actor=manager, digest_at=dt.time(8), off=["topics", "changes"], now=now)
    for kind in ("invite", "moved", "cadence"):
        notices.owe(kind=kind, person=manager, subject=uuid4(), now=now, at_once=kind == "moved")
    gather(now)
    mail = Mail.objects.get()
    assert [notice.kind for notice in mail.notices.all()] == ["cadence"]
    assert Notice.objects.filter(mailed=True).count() == 3


def test_only_what_is_listed_can_be_switched_off(manager: Person, now: dt.datetime) -> None:
    with pytest.raises(OutOfRange):
        mail_wishes.change(actor=manager, digest_at=dt.time(8), off=["security"], now=now)


def test_agendas_go_in_one_mail_at_one_o_clock(manager: Person, now: dt.datetime) -> None:
    for _time in range(2):
        notices.owe(kind="issued", person=manager, subject=uuid4(), now=now)
        gather(now)
    mail = Mail.objects.get()
    assert (mail.kind, mail.not_before, mail.notices.count()) == ("issued", at("2026-11-25 13:00"), 2)
    Mail.objects.update(state="sent")
    afternoon = at("2026-11-25 15:00")
    notices.owe(kind="issued", person=manager, subject=uuid4(), now=afternoon)
    gather(afternoon)
    assert Mail.objects.get(state="queued").not_before == at("2026-11-26 13:00")


def test_an_agenda_issued_in_the_afternoon_goes_at_once_if_it_is_the_first(manager: Person) -> None:
    afternoon = at("2026-11-25 15:00")
    notices.owe(kind="issued", person=manager, subject=uuid4(), now=afternoon)
    gather(afternoon)
    assert Mail.objects.get().not_before == afternoon


@pytest.mark.parametrize(("kind", "digest"), [("digest", 0), ("issued", 0)])
def test_the_database_keeps_it_to_one_a_day(
    manager: Person, now: dt.datetime, kind: str, digest: int
) -> None:
    def make(number: int) -> None:
        Mail.objects.create(
            kind=kind,
            person=manager,
            local_day=now.date(),
            message_id=f"<{number}@x>",
            to_address="a@example.org",
            not_before=now,
            created_at=now,
        )

    make(1)
    with pytest.raises(IntegrityError), transaction.atomic():
        make(2)


def test_what_goes_at_once_has_a_mail_of_its_own_outside_the_digest(
    manager: Person, now: dt.datetime
) -> None:
    owe(manager, now)
    urgent = owe(manager, now, at_once=True)
    gather(now)
    assert digests(manager) == [(dt.date(2026, 11, 26), at("2026-11-26 08:00"), 1)]
    mail = Mail.objects.get(kind="notice")
    assert (mail.notice, mail.person, mail.not_before) == (urgent, manager, now)


def test_at_once_is_never_in_quiet_hours(manager: Person) -> None:
    owe(manager, at("2026-11-25 23:00"), at_once=True)
    gather(at("2026-11-25 23:00"))
    assert Mail.objects.get().not_before == at("2026-11-26 07:00")


@pytest.mark.parametrize(
    "change",
    [{"wants_mail": False}, {"is_active": False}, {"erased_at": dt.datetime(2026, 11, 1, tzinfo=dt.UTC)}],
)
def test_whoever_wants_none_or_has_gone_gets_none_and_the_question_is_settled(
    manager: Person, now: dt.datetime, change: dict[str, object]
) -> None:
    Person.objects.filter(pk=manager.pk).update(**change)
    notice = owe(manager, now)
    gather(now)
    notice.refresh_from_db()
    assert notice.mailed
    assert not Mail.objects.exists()


def test_without_a_server_notices_stay_in_the_app(
    manager: Person, now: dt.datetime, settings: Settings
) -> None:
    settings.MAIL_CAN_LEAVE = False
    owe(manager, now)
    assert gather(now) == 1
    assert not Mail.objects.exists()


def test_what_was_read_or_cancelled_before_needs_no_mail(manager: Person, now: dt.datetime) -> None:
    notices.mark_read(notice=owe(manager, now), actor=manager, now=now)
    cancelled = owe(manager, now)
    notices.cancel(kind="joined", subject=cancelled.subject, now=now)
    gather(now)
    assert not Mail.objects.exists()


def test_what_is_owed_ahead_waits(manager: Person, now: dt.datetime) -> None:
    owe(manager, now, owed_at=now + dt.timedelta(hours=1))
    assert gather(now) == 0
    assert gather(now + dt.timedelta(hours=1)) == 1


def test_account_mail_is_owed_at_once_with_its_text_on_one_line_of_subject(
    manager: Person, now: dt.datetime
) -> None:
    mail = mails.owe_account_mail(
        to_address="ines.okafor@example.org",
        person=manager,
        subject="Your code\r\nBcc: everybody@example.org",
        body="The code is 4711.",
        now=now,
    )
    assert mail.subject == "Your code Bcc: everybody@example.org"
    assert (mail.state, mail.not_before, mail_texts.text_of(mail)) == ("queued", now, "The code is 4711.")


@pytest.mark.parametrize(
    "address", ["", "ines", "ines@", "a@example.org\r\nBcc: b@example.org", "a@example.org, b@example.org"]
)
def test_an_address_that_is_none_or_more_than_one_is_refused(address: str, now: dt.datetime) -> None:
    with pytest.raises(OutOfRange) as refused:
        mails.owe_account_mail(to_address=address, person=None, subject="Code", body="4711", now=now)
    assert refused.value.field == "email"
    assert not Mail.objects.exists()


def test_without_a_server_account_mail_is_kept_as_cancelled_and_without_its_text(
    now: dt.datetime, settings: Settings
) -> None:
    settings.MAIL_CAN_LEAVE = False
    mail = mails.owe_account_mail(
        to_address="ines@example.org", person=None, subject="Code", body="4711", now=now
    )
    assert (mail.state, mail.error, mail.body) == ("cancelled", "no mail server", "")


def test_an_invitation_is_owed_to_the_address_it_is_bound_to(manager: Person, now: dt.datetime) -> None:
    invitation, _token = invitations.invite(
        email="Noor.Haldane@Example.org", name="Noor Haldane", invited_by=manager, now=now
    )
    mail = mails.owe_invitation_mail(invitation=invitation, link="http://localhost:8000/join/abc/", now=now)
    assert (mail.kind, mail.to_address) == ("invitation", "noor.haldane@example.org")


def test_the_message_id_names_the_mail_and_the_server() -> None:
    pk = uuid4()
    assert mails.message_id_of(pk) == f"<{pk}@localhost>"
