"""Mails made from notices: one digest a person and day, quiet hours kept, and only for whoever wants them."""

from __future__ import annotations

import datetime as dt
from uuid import uuid4

import pytest
from pytest_django import Settings

from accounts.models import Person
from accounts.services import invitations
from oneonone.models import Mail, Notice
from oneonone.selectors import mailtexts
from oneonone.services import mails, notices
from oneonone.services.refusals import OutOfRange

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def mail_server(settings: Settings) -> None:
    """Mail can leave."""
    settings.MAIL_CAN_LEAVE = True


def owe(person: Person, now: dt.datetime, **more: object) -> Notice:
    return notices.owe(kind="joined", person=person, subject=uuid4(), now=now, **more)  # type: ignore[arg-type]


def gather(now: dt.datetime) -> int:
    count = 0
    while mails.gather_one(now):
        count += 1
    return count


def at(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text).replace(tzinfo=dt.UTC)


def digests(person: Person) -> list[tuple[dt.date | None, dt.datetime, int]]:
    mails_of = Mail.objects.filter(kind="digest", person=person).order_by("local_day")
    return [(mail.local_day, mail.not_before, mail.notices.count()) for mail in mails_of]


def test_what_is_owed_goes_into_one_digest_a_person(
    manager: Person, report: Person, now: dt.datetime
) -> None:
    for person in (manager, manager, report):
        owe(person, now)
    assert gather(now) == 2
    assert digests(manager) == [(now.date(), now, 2)]
    assert digests(report) == [(now.date(), now, 1)]


def test_gathering_twice_changes_nothing(manager: Person, now: dt.datetime) -> None:
    owe(manager, now)
    gather(now)
    before = list(Mail.objects.values())
    assert gather(now) == 0
    assert list(Mail.objects.values()) == before


def test_more_is_added_until_the_digest_has_gone_and_then_waits_for_the_next_day(
    manager: Person, now: dt.datetime
) -> None:
    owe(manager, now)
    gather(now)
    owe(manager, now)
    gather(now)
    assert digests(manager) == [(dt.date(2026, 11, 25), now, 2)]
    Mail.objects.update(state="sent")
    for hours in (1, 2):
        owe(manager, now + dt.timedelta(hours=hours))
        gather(now + dt.timedelta(hours=hours))
    assert digests(manager)[1:] == [(dt.date(2026, 11, 26), at("2026-11-26 07:00"), 2)]


def test_in_quiet_hours_the_digest_waits_for_their_end_and_is_that_days(manager: Person) -> None:
    late = at("2026-11-25 21:30")
    owe(manager, late)
    gather(late)
    assert digests(manager) == [(dt.date(2026, 11, 26), at("2026-11-26 07:00"), 1)]


def test_the_day_is_the_persons_own(manager: Person, now: dt.datetime) -> None:
    """At 20:00 UTC on the 25th it is 07:00 of the 26th in Noumea, eleven hours ahead."""
    manager.zone = "Pacific/Noumea"
    manager.save(update_fields=["zone"])
    evening = at("2026-11-25 20:00")
    owe(manager, evening)
    gather(evening)
    assert digests(manager) == [(dt.date(2026, 11, 26), evening, 1)]


def test_what_goes_at_once_has_a_mail_of_its_own_outside_the_digest(
    manager: Person, now: dt.datetime
) -> None:
    owe(manager, now)
    urgent = owe(manager, now, at_once=True)
    gather(now)
    assert digests(manager) == [(now.date(), now, 1)]
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
    assert (mail.state, mail.not_before, mailtexts.text_of(mail)) == ("queued", now, "The code is 4711.")


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
