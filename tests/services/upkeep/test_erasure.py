"""Erasing takes a person's words and name, leaves everybody else's, and holds over a restored backup."""

from __future__ import annotations

import datetime as dt
import io
from pathlib import Path
from typing import Any

import pytest
from allauth.account.models import EmailAddress
from allauth.mfa.models import Authenticator
from django.apps import apps
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection, transaction
from django.test import Client

from accounts.models import DayAway, Invitation, Person
from accounts.services import invitations
from oneonone.models import (
    AuditEvent,
    Commitment,
    LegalHold,
    Line,
    Mail,
    MarginNote,
    Meeting,
    Notice,
    PersonKey,
    RecordAddition,
    RecordLine,
    Topic,
)
from oneonone.sealed import CannotOpen
from oneonone.selectors.record import record as records
from oneonone.services.commitments import commitments
from oneonone.services.notices import mail_sending, mails
from oneonone.services.private import keys, margin
from oneonone.services.record import record
from oneonone.services.refusals import ListNotKept, NotAllowed, NotNow, NotYourself, UnderHold
from oneonone.services.upkeep import erasure
from oneonone.services.upkeep import erasure_list as erasurelist
from tests.cast import ClientFor
from tests.scene import AFTER, Brought, TakenOn
from tests.services.crash import at_every_step

NIGHT = "Pennantwort about the night crossings."


@pytest.fixture(autouse=True)
def erasure_list(settings: Any, tmp_path: Path) -> Path:
    """An empty list of this test's own."""
    settings.ERASURE_LIST = tmp_path / "kept" / "erasures.jsonl"
    return Path(settings.ERASURE_LIST)


def erase(person: Person, actor: Person) -> Person:
    erasure.erase(person=person, actor=actor, now=AFTER)
    person.refresh_from_db()
    return person


def everything() -> str:
    """All that any table holds, as text."""
    found = []
    with connection.cursor() as cursor:
        for model in apps.get_models(include_auto_created=True):
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(model._meta.db_table)}")
            found += [repr([bytes(v) if isinstance(v, memoryview) else v for v in row]) for row in cursor]
    return "\n".join(found)


@pytest.fixture
def own(closed_meeting: Meeting, report: Person, now: dt.datetime) -> MarginNote:
    """What Tomas has for himself alone: a note, days away, an app, a mail owed to him."""
    DayAway.objects.create(person=report, first=dt.date(2026, 12, 24), last=dt.date(2026, 12, 31))
    Authenticator.objects.create(user=report, type="totp", data={"secret": "locked"})
    mails.owe_account_mail(to_address=report.email, person=report, subject="A code", body="123456", now=now)
    record.add(meeting=closed_meeting, words="Added by Tomas.", actor=report, now=closed_meeting.record_at)
    note = margin.write(
        meeting=closed_meeting,
        words=NIGHT,
        unclear=False,
        revision=0,
        actor=report,
        now=now,
        today=now.date(),
    )
    assert note is not None
    return note


def test_no_word_and_no_name_of_the_person_is_left_in_any_table(
    own: MarginNote, report: Person, administrator: Person, brought: Brought
) -> None:
    theirs = [
        report.name,
        report.email,
        "gives slots a month ahead only",
        "Added by Tomas.",
        *Topic.objects.filter(raiser=report).values_list("title", flat=True),
    ]
    before = everything()
    assert all(word in before for word in theirs)
    erase(report, administrator)
    after = everything()
    assert [word for word in theirs if word in after] == []
    assert str(report.pk) in after


@pytest.mark.parametrize("outcome", list(mail_sending.Outcome))
def test_a_mail_on_its_way_while_its_reader_is_erased_brings_no_address_back(
    outcome: mail_sending.Outcome, report: Person, administrator: Person, now: dt.datetime, settings: Any
) -> None:
    settings.MAIL_CAN_LEAVE = True
    mails.owe_account_mail(to_address=report.email, person=report, subject="A code", body="123456", now=now)
    on_its_way = mail_sending.claim_one(now)
    assert on_its_way is not None
    mail_sending.begin(claimed=on_its_way, now=now)
    erase(report, administrator)
    settled = mail_sending.settle(claimed=on_its_way, outcome=outcome, now=now)
    assert (settled.to_address, settled.body) == ("", "")
    assert mail_sending.claim_one(now + dt.timedelta(hours=1)) is None


def test_a_mail_whose_text_has_not_begun_to_leave_is_not_sent_to_somebody_erased_meanwhile(
    report: Person, administrator: Person, now: dt.datetime, settings: Any
) -> None:
    settings.MAIL_CAN_LEAVE = True
    mails.owe_account_mail(to_address=report.email, person=report, subject="A code", body="123456", now=now)
    claimed = mail_sending.claim_one(now)
    assert claimed is not None
    erase(report, administrator)
    with pytest.raises(mail_sending.ClaimLost):
        mail_sending.begin(claimed=claimed, now=now)


def test_what_others_wrote_stays_whole(
    own: MarginNote, report: Person, manager: Person, administrator: Person
) -> None:
    titles = set(Topic.objects.filter(raiser=manager).values_list("title", "detail"))
    said = set(RecordLine.objects.filter(author=manager).values_list("words", "version"))
    erase(report, administrator)
    assert set(Topic.objects.filter(raiser=manager).values_list("title", "detail")) == titles
    assert set(RecordLine.objects.filter(author=manager).values_list("words", "version")) == said


def test_the_record_says_when_words_were_removed_and_by_whom_they_were_not(
    own: MarginNote, closed_meeting: Meeting, report: Person, manager: Person, administrator: Person
) -> None:
    """Erasing the manager: the report keeps the record, with the days on which words went."""
    erase(manager, administrator)
    closed_meeting.refresh_from_db()
    kept = records.of(report, Meeting.objects.select_related("line").get(pk=closed_meeting.pk), now=AFTER)
    gone = [line for one in kept.discussed for line in one.lines if line.removed_at is not None]
    assert {(line.author, line.words, line.removed_at) for line in gone} == {("erased person", "", AFTER)}
    assert any(line.words for one in kept.discussed for line in one.lines)


def test_lines_end_sessions_end_and_nothing_is_said_to_them_any_more(
    own: MarginNote, report: Person, administrator: Person, client_for: ClientFor
) -> None:
    client: Client = client_for(report)
    assert client.get("/").status_code == 200
    erase(report, administrator)
    assert client.get("/").status_code == 302
    assert not Line.objects.open().with_side(report).exists()
    assert not Notice.objects.filter(person=report, cancelled_at__isnull=True).exists()
    assert not Mail.objects.exclude(to_address="").filter(person=report).exists()
    assert not Mail.objects.filter(person=report, state=Mail.State.QUEUED).exists()
    assert not EmailAddress.objects.filter(user=report).exists()
    assert not Authenticator.objects.filter(user=report).exists()
    assert not DayAway.objects.filter(person=report).exists()
    assert (report.name, report.is_active, report.erased_at) == ("", False, AFTER)
    assert not report.has_usable_password()


def test_open_commitments_of_theirs_are_dropped_as_left_and_those_of_others_stay(
    own: MarginNote, taken_on: TakenOn, report: Person, manager: Person, administrator: Person
) -> None:
    erase(report, administrator)
    for commitment in (taken_on.reports, taken_on.offered):
        commitment.refresh_from_db()
        assert (commitment.state, commitment.settled_cause) == (Commitment.State.DROPPED, "left")
    taken_on.managers.refresh_from_db()
    assert taken_on.managers.state == Commitment.State.OPEN
    assert taken_on.managers.action == "Ask the harbour for a crane slot"
    assert taken_on.reports.action == ""
    assert taken_on.offered.action == "Book the licence course"  # typed by Ines


def test_what_somebody_else_has_taken_on_keeps_its_words_whoever_typed_them(
    own: MarginNote, taken_on: TakenOn, report: Person, manager: Person, administrator: Person
) -> None:
    commitments.confirm(commitment=taken_on.offered, actor=report, now=AFTER)
    erase(manager, administrator)
    taken_on.offered.refresh_from_db()
    assert (taken_on.offered.action, taken_on.offered.state) == ("Book the licence course", "open")


def test_an_offer_that_nobody_is_left_to_stand_by_is_dropped_without_its_words(
    own: MarginNote, taken_on: TakenOn, manager: Person, administrator: Person
) -> None:
    erase(manager, administrator)
    taken_on.offered.refresh_from_db()
    assert (taken_on.offered.action, taken_on.offered.state) == ("", "dropped")
    assert taken_on.offered.removed_at == AFTER


def test_a_private_row_from_a_backup_is_opened_by_nobody(
    own: MarginNote, report: Person, manager: Person, administrator: Person
) -> None:
    assert keys.open_for(report, own)["words"] == NIGHT
    erase(report, administrator)
    assert not MarginNote.objects.of(report).exists()
    assert not PersonKey.objects.of(report).exists()
    for reader in (report, manager, administrator):
        with pytest.raises(CannotOpen):
            keys.open_for(reader, own)


def test_invitations_to_them_are_emptied_and_theirs_withdrawn(
    report: Person, manager: Person, administrator: Person, now: dt.datetime
) -> None:
    taken, _token = invitations.invite(email=report.email, name="Tomas L.", invited_by=manager, now=now)
    invitations.accept(invitation=taken, person=report, now=now)
    open_one, _token = invitations.invite(email="jon@example.org", name="Jon", invited_by=report, now=now)
    erase(report, administrator)
    taken.refresh_from_db()
    open_one.refresh_from_db()
    assert (taken.name, taken.email) == ("", f"{report.pk}@erased.invalid")
    assert (open_one.email, open_one.revoked_at) == ("jon@example.org", AFTER)
    assert not Invitation.objects.filter(email="tomas.lindqvist@example.org").exists()


def test_under_a_legal_hold_nothing_is_erased(
    own: MarginNote, report: Person, administrator: Person, erasure_list: Path, now: dt.datetime
) -> None:
    LegalHold.objects.create(person=report, since=now, placed_by=administrator)
    before = everything()
    with pytest.raises(UnderHold):
        erase(report, administrator)
    assert everything() == before
    assert not erasure_list.exists()
    LegalHold.objects.update(lifted_at=now)
    assert erase(report, administrator).erased_at == AFTER


def test_only_an_administrator_erases_and_neither_themselves_nor_anybody_twice(
    report: Person, manager: Person, superuser: Person, administrator: Person
) -> None:
    for actor in (manager, superuser):
        with pytest.raises(NotAllowed):
            erase(report, actor)
    with pytest.raises(NotYourself):
        erase(administrator, administrator)
    erase(report, administrator)
    with pytest.raises(NotNow):
        erase(report, administrator)


def test_it_is_noted_who_erased_whom(report: Person, administrator: Person) -> None:
    erase(report, administrator)
    event = AuditEvent.objects.get(act="person erased")
    assert (event.actor, event.person, event.at, event.facts) == (administrator, report, AFTER, {})


def test_the_list_outside_the_database_brings_the_erasing_back_after_a_restore(
    own: MarginNote, report: Person, administrator: Person, erasure_list: Path
) -> None:
    with transaction.atomic():
        erase(report, administrator)
        transaction.set_rollback(True)  # the database as a backup from before has it
    report.refresh_from_db()
    assert report.name == "Tomas Lindqvist"
    assert erasure_list.stat().st_mode & 0o777 == 0o600
    assert "Tomas" not in erasure_list.read_text()
    assert "Erasures listed: 1. Not erased in this database: 1." in run("show")
    assert "Erased again: 1." in run("apply")
    report.refresh_from_db()
    assert (report.name, report.is_active) == ("", False)
    assert not MarginNote.objects.of(report).exists()
    assert "Erased again: 0." in run("apply")
    assert len(list(erasurelist.read(erasure_list))) == 1


def test_the_list_erases_nobody_under_a_hold_and_says_so(
    report: Person, administrator: Person, now: dt.datetime, erasure_list: Path
) -> None:
    LegalHold.objects.create(person=report, since=now, placed_by=administrator)
    erasurelist.append(erasure_list, erasurelist.Entry(report.pk, administrator.pk, now))
    with pytest.raises(CommandError, match="legal hold, and therefore not erased: 1"):
        run("apply")
    report.refresh_from_db()
    assert report.name


def test_without_a_list_nobody_is_erased(
    own: MarginNote, report: Person, administrator: Person, settings: Any, tmp_path: Path
) -> None:
    settings.ERASURE_LIST = tmp_path  # a folder cannot be written to
    before = everything()
    with pytest.raises(ListNotKept):
        erase(report, administrator)
    assert everything() == before


def test_a_list_that_cannot_be_read_is_said_by_its_line(erasure_list: Path, db: None) -> None:
    erasure_list.parent.mkdir()
    erasure_list.write_text('{"person": "nobody"}\n')
    with pytest.raises(CommandError, match="Line 1 of"):
        run("apply")


@pytest.mark.django_db(transaction=True)
def test_erasing_that_dies_at_any_statement_has_erased_all_or_nothing(
    own: MarginNote, report: Person, administrator: Person
) -> None:
    words = RecordLine.objects.filter(author=report).exclude(words="").count()
    added = RecordAddition.objects.filter(author=report).exclude(words="").count()

    def whole() -> None:
        there = Person.objects.get(pk=report.pk)
        assert there.name == "Tomas Lindqvist"
        assert keys.open_for(report, MarginNote.objects.of(report).get())["words"] == NIGHT
        assert RecordLine.objects.filter(author=report).exclude(words="").count() == words
        assert RecordAddition.objects.filter(author=report).exclude(words="").count() == added
        assert Line.objects.open().with_side(report).exists()

    def act() -> None:
        erasure.erase(person=Person.objects.get(pk=report.pk), actor=administrator, now=AFTER)

    assert at_every_step(act, whole) > 40
    assert Person.objects.get(pk=report.pk).name == ""
    assert not Line.objects.open().with_side(report).exists()


def run(act: str) -> str:
    said = io.StringIO()
    call_command("erasures", act, stdout=said)
    return said.getvalue()
