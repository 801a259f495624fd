"""A mail is claimed by one, looked at again, and settled by whoever claimed it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from uuid import uuid4

import pytest
from django.db import transaction
from pytest_django import Settings

from accounts.models import Invitation, Person
from accounts.services import invitations
from oneonone.models import Mail, Meeting
from oneonone.services.lines import lines
from oneonone.services.meetings import meetings
from oneonone.services.notices import mail_sending, mail_wishes, mails, notices
from oneonone.services.notices.mail_sending import Claimed, Outcome

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def mail_server(settings: Settings) -> None:
    """Mail can leave."""
    settings.MAIL_CAN_LEAVE = True


def account_mail(now: dt.datetime) -> Mail:
    return mails.owe_account_mail(
        to_address="ines@example.org", person=None, subject="Your code", body="4711", now=now
    )


def claimed(now: dt.datetime) -> Claimed:
    found = mail_sending.claim_one(now)
    assert found is not None
    return found


def owe(meeting: Meeting, kind: str, person: Person, now: dt.datetime, *, at_once: bool = True) -> None:
    notices.owe(
        kind=kind,
        person=person,
        subject=meeting.pk,
        schedule_version=meeting.schedule_version,
        line=meeting.line,
        meeting=meeting,
        now=now,
        at_once=at_once,
    )
    list(mails.GATHER.each(now, most=100))


def test_the_claim_stands_in_the_database_before_anything_is_sent(now: dt.datetime) -> None:
    mail = account_mail(now)
    found = claimed(now)
    stored = Mail.objects.get(pk=mail.pk)
    assert (stored.state, stored.claim, stored.claimed_at, stored.attempts) == (
        "claimed",
        found.claim,
        now,
        1,
    )
    assert stored.message_id == mail.message_id
    assert mail_sending.claim_one(now) is None


def test_it_is_never_made_inside_a_transaction_that_could_take_it_back(now: dt.datetime) -> None:
    account_mail(now)
    with transaction.atomic(), pytest.raises(RuntimeError):
        mail_sending.claim_one(now)


def test_the_one_due_longest_goes_first_and_none_before_its_time(now: dt.datetime) -> None:
    later, sooner = account_mail(now + dt.timedelta(minutes=2)), account_mail(now)
    assert claimed(now).mail == sooner
    assert mail_sending.claim_one(now + dt.timedelta(minutes=1)) is None
    assert claimed(now + dt.timedelta(minutes=2)).mail == later


def test_sent_it_keeps_no_text(now: dt.datetime) -> None:
    account_mail(now)
    mail = mail_sending.settle(claimed=claimed(now), outcome=Outcome.SENT, now=now)
    assert (mail.state, mail.sent_at, mail.body) == ("sent", now, "")
    assert mail_sending.claim_one(now) is None


def test_refused_for_good_it_is_not_tried_again_and_keeps_no_text(now: dt.datetime) -> None:
    account_mail(now)
    mail = mail_sending.settle(claimed=claimed(now), outcome=Outcome.REFUSED, error="550", now=now)
    assert (mail.state, mail.error, mail.body) == ("failed", "550", "")
    assert mail_sending.claim_one(now + dt.timedelta(days=1)) is None


def test_refused_for_now_it_waits_twice_as_long_each_time_and_is_given_up_in_the_end(
    manager: Person, now: dt.datetime
) -> None:
    """One minute doubled ten times is 17 hours; from the ninth time on it is four hours."""
    invitation, _token = invitations.invite(
        email="noor@example.org", name="Noor Haldane", invited_by=manager, now=now
    )
    mail = mails.owe_invitation_mail(invitation=invitation, link="http://localhost/join/", now=now)
    waits = []
    while mail.state == "queued":
        found = claimed(mail.not_before)
        before = mail.not_before
        mail = mail_sending.settle(claimed=found, outcome=Outcome.NOT_NOW, error="451", now=before)
        waits.append(int((mail.not_before - before).total_seconds() // 60))
    assert waits == [1, 2, 4, 8, 16, 32, 64, 128, 240, 240, 240, 0]
    assert (mail.state, mail.error, mail.body, mail.attempts) == ("failed", "451", "", 12)


def test_without_a_server_nothing_was_tried(now: dt.datetime) -> None:
    account_mail(now)
    mail = mail_sending.settle(claimed=claimed(now), outcome=Outcome.AWAY, now=now)
    assert (mail.state, mail.attempts, mail.not_before) == ("queued", 0, now + dt.timedelta(minutes=1))


def test_one_whose_sender_is_gone_is_unknown_and_never_sent_again(now: dt.datetime) -> None:
    mail = account_mail(now)
    mail_sending.begin(claimed=claimed(now), now=now)
    assert mail_sending.take_back(now + dt.timedelta(hours=1)) == 0
    assert mail_sending.find_unknown(now + dt.timedelta(minutes=9)) == 0
    assert mail_sending.find_unknown(now + dt.timedelta(minutes=10)) == 1
    mail.refresh_from_db()
    assert (mail.state, mail.body) == ("unknown", "")
    assert mail_sending.claim_one(now + dt.timedelta(days=2)) is None


@pytest.mark.parametrize(
    ("outcome", "state"),
    [
        (Outcome.SENT, "sent"),
        (Outcome.REFUSED, "failed"),
        (Outcome.NOT_NOW, "unknown"),
        (Outcome.AWAY, "unknown"),
        (Outcome.UNCONFIRMED, "unknown"),
    ],
)
def test_a_slow_sender_can_still_say_what_became_of_it_but_not_queue_it_again(
    now: dt.datetime, outcome: Outcome, state: str
) -> None:
    account_mail(now)
    found = claimed(now)
    mail_sending.begin(claimed=found, now=now)
    mail_sending.find_unknown(now + dt.timedelta(hours=1))
    assert mail_sending.settle(claimed=found, outcome=outcome, now=now).state == state


def test_only_the_holder_of_the_claim_settles(now: dt.datetime) -> None:
    account_mail(now)
    found = claimed(now)
    stranger = Claimed(found.mail, uuid4())
    assert mail_sending.settle(claimed=stranger, outcome=Outcome.REFUSED, now=now).state == "claimed"
    assert mail_sending.settle(claimed=found, outcome=Outcome.SENT, now=now).state == "sent"
    assert mail_sending.settle(claimed=found, outcome=Outcome.REFUSED, now=now).state == "sent"


def test_a_code_that_is_a_day_old_is_not_sent_any_more(now: dt.datetime) -> None:
    mail = account_mail(now)
    assert mail_sending.claim_one(now + dt.timedelta(days=1)) is None
    mail.refresh_from_db()
    assert (mail.state, mail.error, mail.body) == ("cancelled", "no longer owed", "")


def _accept(invitation: Invitation, manager: Person, now: dt.datetime) -> None:
    Invitation.objects.filter(pk=invitation.pk).update(accepted_at=now, accepted_by=manager)


def _revoke(invitation: Invitation, manager: Person, now: dt.datetime) -> None:
    invitations.revoke(invitation=invitation, now=now)


def _expire(invitation: Invitation, manager: Person, now: dt.datetime) -> None:
    Invitation.objects.filter(pk=invitation.pk).update(created_at=now - dt.timedelta(days=9), expires_at=now)


@pytest.mark.parametrize("end", [_accept, _revoke, _expire])
def test_the_link_of_an_invitation_that_is_used_or_void_is_not_sent(
    manager: Person, now: dt.datetime, end: Callable[[Invitation, Person, dt.datetime], None]
) -> None:
    invitation, _token = invitations.invite(
        email="noor@example.org", name="Noor Haldane", invited_by=manager, now=now
    )
    mail = mails.owe_invitation_mail(invitation=invitation, link="http://localhost/join/", now=now)
    end(invitation, manager, now)
    assert mail_sending.claim_one(now) is None
    mail.refresh_from_db()
    assert (mail.state, mail.body) == ("cancelled", "")


def test_what_was_overtaken_meanwhile_is_left_out_and_an_empty_mail_is_cancelled(
    meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    owe(meeting, "invite", report, now, at_once=False)
    meetings.call_off(meeting=meeting, actor=manager, now=now)
    list(mails.GATHER.each(now, most=100))
    assert mail_sending.claim_one(now) is None
    found = claimed(now + dt.timedelta(days=1))
    assert found.mail.kind == "digest"
    assert [notice.kind for notice in found.notices] == ["called_off"]


def test_a_reminder_of_a_meeting_that_was_moved_or_called_off_is_not_sent(
    meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    owe(meeting, "today", report, now)
    meetings.move(
        meeting=meeting,
        starts_at=dt.datetime(2026, 12, 8, 14, 0, tzinfo=dt.UTC),
        actor=manager,
        now=now,
    )
    assert mail_sending.claim_one(now) is None
    assert Mail.objects.get().state == Mail.State.CANCELLED


@pytest.mark.parametrize("with_an_older_one", [False, True])
def test_a_run_that_began_before_a_notice_was_owed_gives_its_digest_back(
    meeting: Meeting, manager: Person, now: dt.datetime, with_an_older_one: bool
) -> None:
    """Two processes: the one gathered with a later ``now`` than the other, which finds the digest due."""
    later = now + dt.timedelta(seconds=20)
    if with_an_older_one:
        owe(meeting, "extra", manager, now, at_once=False)
    owe(meeting, "invite", manager, later, at_once=False)
    Mail.objects.update(not_before=now)
    assert mail_sending.claim_one(now) is None
    mail = Mail.objects.get()
    assert (mail.state, mail.not_before, mail.attempts) == ("queued", later, 0)
    assert [notice.kind for notice in claimed(later).notices] == ["extra", "invite"][not with_an_older_one :]


def test_the_days_mail_takes_the_reminders_of_the_day_that_are_owed_later(
    meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    """At most one a day: at 07:00, when this person's mail goes, the reminder of 08:00 goes with it."""
    mail_wishes.change(actor=manager, digest_at=dt.time(7), off=[], now=now)
    owe(meeting, "extra", manager, dt.datetime(2026, 12, 2, 12, 0, tzinfo=dt.UTC), at_once=False)
    today = notices.owe(
        kind="today",
        person=manager,
        subject=meeting.pk,
        schedule_version=meeting.schedule_version,
        line=meeting.line,
        meeting=meeting,
        now=now,
        owed_at=dt.datetime(2026, 12, 3, 8, 0, tzinfo=dt.UTC),
    )
    seven = dt.datetime(2026, 12, 3, 7, 0, tzinfo=dt.UTC)
    assert [one.kind for one in claimed(seven).notices] == ["extra", "today"]
    today.refresh_from_db()
    assert (today.mailed, today.owed_at) == (True, seven)


def test_what_was_switched_off_meanwhile_is_left_out(
    meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    owe(meeting, "invite", manager, now, at_once=False)
    mail_wishes.change(actor=manager, digest_at=dt.time(8), off=["topics"], now=now)
    assert mail_sending.claim_one(now + dt.timedelta(days=1)) is None
    assert Mail.objects.get().state == Mail.State.CANCELLED


def test_rights_and_wishes_are_looked_at_again(
    meeting: Meeting, manager: Person, report: Person, administrator: Person, now: dt.datetime
) -> None:
    owe(meeting, "invite", manager, now)
    owe(meeting, "invite", report, now)
    Person.objects.filter(pk=report.pk).update(wants_mail=False)
    lines.end(line=meeting.line, actor=administrator, now=now, today=now.date())
    assert mail_sending.claim_one(now) is None
    assert {mail.state for mail in Mail.objects.all()} == {"cancelled"}


def test_a_person_who_reads_it_in_the_app_first_gets_no_mail(
    meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    owe(meeting, "invite", manager, now)
    notices.mark_all_read(actor=manager, now=now)
    assert mail_sending.claim_one(now) is None


def test_one_that_was_held_up_into_quiet_hours_waits_for_their_end(
    meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    owe(meeting, "invite", manager, now)
    assert mail_sending.claim_one(dt.datetime(2026, 11, 25, 22, 0, tzinfo=dt.UTC)) is None
    mail = Mail.objects.get()
    morning = dt.datetime(2026, 11, 26, 7, 0, tzinfo=dt.UTC)
    assert (mail.state, mail.not_before, mail.attempts) == ("queued", morning, 0)
    assert claimed(morning).mail == mail


def test_it_goes_to_the_address_the_person_has_when_it_is_sent(
    meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    owe(meeting, "invite", manager, now)
    Person.objects.filter(pk=manager.pk).update(email="ines@elsewhere.example.org")
    found = claimed(now)
    assert found.mail.to_address == "ines@elsewhere.example.org"
    assert (
        mail_sending.settle(claimed=found, outcome=Outcome.SENT, now=now).to_address
        == "ines@elsewhere.example.org"
    )
