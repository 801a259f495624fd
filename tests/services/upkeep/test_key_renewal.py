"""Keys are renewed without a moment at which a text cannot be read, and wherever the renewing dies."""

from __future__ import annotations

import base64
import datetime as dt
import io
from collections.abc import Callable
from typing import Any

import pytest
from allauth.mfa.models import Authenticator
from django.apps import apps
from django.core.management import call_command
from django.core.management.base import CommandError

from accounts.models import Person, Session
from accounts.models.session import hash_of_key
from oneonone import clock, sealed
from oneonone.models import LogbookEntry, Mail, PersonKey
from oneonone.selectors.notices import mail_texts
from oneonone.selectors.private import key_usage
from oneonone.services.notices import mails
from oneonone.services.private import keys, second_factor_secrets
from oneonone.services.upkeep import key_renewal
from oneonone.web.signing_in.session_store import SessionStore
from tests.cast import NOW, spoilt
from tests.services.crash import at_every_step

NEW_KEK = base64.b64encode(b"a newer thirty-two byte test key").decode()
LATER = dt.timedelta(days=30)
SECRET = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"

pytestmark = pytest.mark.django_db


def write(author: Person, words: str, now: dt.datetime) -> LogbookEntry:
    row = LogbookEntry(owner=author, created_on=now.date(), changed_on=now.date())
    keys.seal_for(author=author, row=row, payload={"words": words}, now=now)
    row.save(force_insert=True)
    return row


def words_of(reader: Person) -> set[str]:
    opener = keys.Opener(reader)
    return {opener.open(row)["words"] for row in LogbookEntry.objects.of(reader)}


def numbers_of(person: Person) -> list[int]:
    return list(PersonKey.objects.of(person).values_list("number", flat=True))


def wrapped_by(person: Person) -> set[str]:
    return {sealed.wrapped_by(bytes(row.wrapped)) for row in PersonKey.objects.of(person)}


@pytest.fixture
def texts(manager: Person, report: Person, now: dt.datetime) -> dict[Person, set[str]]:
    """Seven entries of Ines and one of Tomas, each under their first key."""
    mine = {f"Entry {number} of the quay." for number in range(7)}
    for words in sorted(mine):
        write(manager, words, now)
    write(report, "The pontoon lists.", now)
    return {manager: mine, report: {"The pontoon lists."}}


@pytest.fixture
def second_factor(manager: Person) -> Authenticator:
    """An app and recovery codes of Ines, two of which she has used."""
    seed = second_factor_secrets.lock("0123456789abcdef")
    Authenticator.objects.create(user=manager, type="recovery_codes", data={"seed": seed, "used_mask": 5})
    app = Authenticator(user=manager, type="totp", data={"secret": second_factor_secrets.lock(SECRET)})
    app.save()
    return app


@pytest.fixture
def newer_kek(settings: Any) -> Callable[[], str]:
    """Puts a newer key-encryption key first; gives its id."""

    def put_first() -> str:
        settings.KEK_TEXT = f"{NEW_KEK}\n{settings.KEK_TEXT}"
        return sealed.parse_keks(NEW_KEK)[0].id

    return put_first


def rewrap_all() -> key_renewal.Renewed:
    done = key_renewal.Renewed()
    for person in key_renewal.everybody():
        done += key_renewal.rewrap_keys(person=person) + key_renewal.relock_second_factors(person=person)
    return done


def renew(person: Person, now: dt.datetime) -> key_renewal.Renewed:
    key_renewal.new_data_key(person=person, made_before=now, now=now)
    return key_renewal.reseal(person=person, batch=3)


def test_after_rewrapping_the_older_key_can_be_taken_away(
    texts: dict[Person, set[str]],
    second_factor: Authenticator,
    newer_kek: Callable[[], str],
    settings: Any,
) -> None:
    newest = newer_kek()
    assert rewrap_all() == key_renewal.Renewed(rows=4)
    settings.KEK_TEXT = NEW_KEK
    for person, written in texts.items():
        assert wrapped_by(person) == {newest}
        assert words_of(person) == written
    second_factor.refresh_from_db()
    assert second_factor_secrets.unlock(second_factor.data["secret"]) == SECRET
    assert Authenticator.objects.get(type="recovery_codes").data["used_mask"] == 5


def test_rewrapping_twice_changes_nothing_the_second_time(
    texts: dict[Person, set[str]], newer_kek: Callable[[], str]
) -> None:
    newer_kek()
    assert rewrap_all().rows == 2
    assert rewrap_all() == key_renewal.Renewed()


def test_the_texts_are_untouched_by_rewrapping(manager: Person, now: dt.datetime, newer_kek: Any) -> None:
    write(manager, "A word.", now)
    before = bytes(LogbookEntry.objects.of(manager).get().blob)
    newer_kek()
    rewrap_all()
    assert bytes(LogbookEntry.objects.of(manager).get().blob) == before


@pytest.mark.django_db(transaction=True)
def test_rewrapping_that_dies_at_any_statement_leaves_everything_readable(
    texts: dict[Person, set[str]], second_factor: Authenticator, newer_kek: Callable[[], str]
) -> None:
    newest = newer_kek()

    def all_there() -> None:
        for person, written in texts.items():
            assert words_of(person) == written
        second_factor.refresh_from_db()
        assert second_factor_secrets.unlock(second_factor.data["secret"]) == SECRET

    assert at_every_step(rewrap_all, all_there) > 8
    assert {name for person in texts for name in wrapped_by(person)} == {newest}


def test_a_key_wrapped_by_none_at_hand_is_left_and_counted(
    texts: dict[Person, set[str]], manager: Person, report: Person, settings: Any
) -> None:
    settings.KEK_TEXT = NEW_KEK
    before = wrapped_by(manager) | wrapped_by(report)
    assert rewrap_all() == key_renewal.Renewed(left=2)
    assert wrapped_by(manager) | wrapped_by(report) == before


def test_a_new_data_key_takes_over_all_rows_and_the_old_one_goes(
    texts: dict[Person, set[str]], manager: Person, report: Person, now: dt.datetime
) -> None:
    revisions = set(LogbookEntry.objects.of(manager).values_list("pk", "revision", "changed_on"))
    assert renew(manager, now + LATER) == key_renewal.Renewed(rows=7)
    assert numbers_of(manager) == [2]
    assert set(LogbookEntry.objects.of(manager).values_list("key_number", flat=True)) == {2}
    assert set(LogbookEntry.objects.of(manager).values_list("pk", "revision", "changed_on")) == revisions
    assert words_of(manager) == texts[manager]
    assert (numbers_of(report), words_of(report)) == ([1], texts[report])


@pytest.mark.django_db(transaction=True)
def test_renewing_that_dies_at_any_statement_leaves_everything_readable_and_goes_on(
    texts: dict[Person, set[str]], manager: Person, now: dt.datetime
) -> None:
    later = now + LATER
    seen: set[tuple[int, ...]] = set()

    def all_there() -> None:
        assert words_of(manager) == texts[manager]
        seen.add(tuple(numbers_of(manager)))

    assert at_every_step(lambda: renew(manager, later), all_there) > 10
    assert {(1,), (2, 1)} <= seen <= {(1,), (2, 1), (2,)}
    assert numbers_of(manager) == [2]
    assert words_of(manager) == texts[manager]


def test_a_run_that_went_on_gives_nobody_a_third_key(
    texts: dict[Person, set[str]], manager: Person, now: dt.datetime
) -> None:
    started = now + LATER
    assert key_renewal.new_data_key(person=manager, made_before=started, now=started)
    again = started + dt.timedelta(minutes=5)
    assert not key_renewal.new_data_key(person=manager, made_before=started, now=again)
    key_renewal.reseal(person=manager)
    assert numbers_of(manager) == [2]


def test_what_is_written_between_two_steps_is_kept_as_written(
    texts: dict[Person, set[str]], manager: Person, now: dt.datetime
) -> None:
    later = now + LATER
    key_renewal.new_data_key(person=manager, made_before=later, now=later)
    first = LogbookEntry.objects.of(manager).order_by("pk")[0]

    def write_over() -> None:
        row = LogbookEntry.objects.of(manager).get(pk=first.pk)
        row.revision += 1
        keys.seal_for(author=manager, row=row, payload={"words": "Newer words."}, now=later)
        row.save()

    key_renewal.reseal(person=manager, batch=1, between=write_over)
    assert keys.open_for(manager, LogbookEntry.objects.of(manager).get(pk=first.pk)) == {
        "words": "Newer words."
    }
    assert len(words_of(manager)) == 7


def test_what_cannot_be_opened_is_left_with_its_key(
    texts: dict[Person, set[str]], manager: Person, now: dt.datetime
) -> None:
    broken = LogbookEntry.objects.of(manager).order_by("pk")[0]
    LogbookEntry.objects.of(manager).filter(pk=broken.pk).update(blob=spoilt(broken.blob))
    assert renew(manager, now + LATER) == key_renewal.Renewed(rows=6, left=1)
    assert numbers_of(manager) == [2, 1]
    assert LogbookEntry.objects.of(manager).get(pk=broken.pk).key_number == 1


def test_somebody_who_has_written_nothing_gets_no_key(outsider: Person, now: dt.datetime) -> None:
    assert renew(outsider, now) == key_renewal.Renewed()
    assert numbers_of(outsider) == []


def test_every_private_table_is_renewed() -> None:
    """One that is added later is found by what it is, and not by a list."""
    names = {model._meta.db_table for model in key_usage.sealed_tables()}
    assert {"oneonone_marginnote", "oneonone_logbookentry", "oneonone_preparation"} <= names
    assert "oneonone_commitmentplan" in names
    columns = {
        model._meta.db_table: {field.name for field in model._meta.get_fields()}
        for model in apps.get_app_config("oneonone").get_models()
    }
    assert {table for table, have in columns.items() if {"blob", "owner", "revision"} <= have} == names


def run(*words: str) -> str:
    clock.hold_at(NOW + LATER)
    said = io.StringIO()
    call_command("keys", *words, stdout=said)
    return said.getvalue()


def test_check_says_what_an_older_key_still_holds_and_then_that_it_holds_nothing(
    texts: dict[Person, set[str]], second_factor: Authenticator, newer_kek: Callable[[], str], settings: Any
) -> None:
    old = sealed.parse_keks(settings.KEK_TEXT)[0].id
    newest = newer_kek()
    shown = run("show")
    assert f"{newest}  in use: 0 data keys, 0 secrets of second factors" in shown
    assert f"{old}  older: 2 data keys, 2 secrets of second factors" in shown
    assert "8 under the data keys in use of 2 people, 0 under retired ones, 0 under none" in shown
    assert f"{old} still holds 4" in run("check")
    assert "Renewed: 4." in run("renew")
    checked = run("check")
    assert f"{old} holds nothing here" in checked
    assert "Everything opens" in checked


def test_the_command_gives_everybody_a_new_data_key(
    texts: dict[Person, set[str]], manager: Person, report: Person
) -> None:
    said = run("renew", "--people")
    assert "New data keys: 2. Renewed: 8. Left because unopened: 0." in said
    assert numbers_of(manager) == numbers_of(report) == [2]
    instant = said.partition("--made-before ")[2].split()[0]
    assert "New data keys: 0. Renewed: 0." in run("renew", "--people", "--made-before", instant)


def test_the_command_renews_one_person(
    texts: dict[Person, set[str]], manager: Person, report: Person
) -> None:
    assert "New data keys: 1. Renewed: 7." in run("renew", "--person", manager.email.upper())
    assert (numbers_of(manager), numbers_of(report)) == ([2], [1])


@pytest.mark.parametrize(
    ("words", "refusal"),
    [
        (["renew", "--person", "nobody@example.org"], "Nobody signs in with this address"),
        (["renew", "--people", "--made-before", "yesterday"], "takes an instant"),
        (["renew", "--people", "--made-before", "2026-11-25T10:00:00"], "with its offset"),
        (["check", "--people"], "go with renew"),
    ],
)
def test_the_command_says_what_it_takes(words: list[str], refusal: str) -> None:
    with pytest.raises(CommandError, match=refusal):
        run(*words)


def test_check_fails_where_a_key_is_gone_or_does_not_open(
    texts: dict[Person, set[str]], manager: Person, settings: Any
) -> None:
    PersonKey.objects.of(manager).delete()
    with pytest.raises(CommandError, match=r"0 keys, secrets, .*, 7 rows whose key is gone"):
        run("check")
    settings.KEK_TEXT = NEW_KEK
    with pytest.raises(CommandError, match=r"1 keys, secrets, .*, 7 rows"):
        run("check")
    with pytest.raises(CommandError, match="could not be opened"):
        run("renew")


@pytest.fixture
def in_a_browser(settings: Any, now: dt.datetime) -> tuple[SessionStore, Mail]:
    """A session with a code in it, and the mail with the code that is not sent yet."""
    settings.MAIL_CAN_LEAVE = True
    session = SessionStore()
    session["code"] = "4711"
    session.save()
    mail = mails.owe_account_mail(
        to_address="ines@example.org", person=None, subject="Code", body="4711", now=now
    )
    return session, mail


def kept(session: SessionStore) -> Any:
    return SessionStore(session.session_key).get("code")


def test_sessions_and_texts_of_mails_are_put_under_the_newest_key(
    in_a_browser: tuple[SessionStore, Mail], newer_kek: Any, settings: Any
) -> None:
    session, mail = in_a_browser
    newest = newer_kek()
    older = settings.KEK_TEXT.splitlines()[1]
    assert "still holds 2: run `keys renew`." in run("check")
    assert "Renewed: 2." in run("renew")
    assert f"{newest}  in use: 0 data keys, 0 secrets of second factors, 1 sessions, 1 texts of mails" in run(
        "show"
    )
    assert "holds nothing here" in run("check")
    assert "Renewed: 0." in run("renew")
    settings.KEK_TEXT = NEW_KEK
    mail.refresh_from_db()
    assert (kept(session), mail_texts.text_of(mail)) == ("4711", "4711")
    settings.KEK_TEXT = older
    assert kept(session) is None


def test_a_session_that_no_key_opens_is_over_and_a_mail_is_left_and_told(
    in_a_browser: tuple[SessionStore, Mail], settings: Any
) -> None:
    settings.KEK_TEXT = NEW_KEK
    with pytest.raises(CommandError, match="Cannot be opened: 2 keys"):
        run("check")
    with pytest.raises(CommandError, match="could not be opened"):
        run("renew")
    assert not Session.objects.exists()
    assert Mail.objects.get().body


def test_what_a_page_keeps_in_a_session_meanwhile_is_kept(
    in_a_browser: tuple[SessionStore, Mail], newer_kek: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    session, _mail = in_a_browser
    newer_kek()
    anew = key_renewal._locked_anew

    def while_a_page_writes(purpose: str, stored: str) -> str | None:
        fresh = anew(purpose, stored)
        session["code"] = "4712"
        session.save()
        return fresh

    monkeypatch.setattr(key_renewal, "_locked_anew", while_a_page_writes)
    key_renewal.relock_sessions()
    assert kept(session) == "4712"


def test_what_was_sealed_for_one_row_opens_in_no_other(in_a_browser: tuple[SessionStore, Mail]) -> None:
    session, mail = in_a_browser
    other = SessionStore()
    other["code"] = "0000"
    other.save()
    rows = Session.objects.exclude(pk=hash_of_key(other.session_key or ""))
    Session.objects.filter(pk=hash_of_key(other.session_key or "")).update(payload=rows.get().payload)
    assert kept(other) is None
    Session.objects.filter(pk=hash_of_key(session.session_key or "")).update(payload=mail.body)
    assert kept(session) is None


def test_no_key_and_no_word_is_said(texts: dict[Person, set[str]], settings: Any) -> None:
    said = run("show") + run("check") + run("renew", "--people")
    assert settings.KEK_TEXT.strip() not in said
    assert "quay" not in said
    assert "pontoon" not in said
