"""What one person seals, nobody else opens; and the key is chosen by who reads."""

from __future__ import annotations

import base64
import datetime as dt
import logging
from typing import Any

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.db import IntegrityError, transaction

from accounts.models import Person
from oneonone import sealed
from oneonone.models import LogbookEntry, PersonKey, Unreadable
from oneonone.sealed import CannotOpen
from oneonone.services.private import keys
from tests.cast import queries

TODAY = dt.date(2026, 11, 25)
PAYLOAD = {"words": "Ask about the night crossings.", "kind": "question"}
OTHER_KEK = base64.b64encode(b"another thirty-two byte test key").decode()


def entry(author: Person, now: dt.datetime, payload: dict[str, Any] = PAYLOAD) -> LogbookEntry:
    """A stored logbook entry of this author."""
    row = LogbookEntry(owner=author, created_on=TODAY, changed_on=TODAY)
    keys.seal_for(author=author, row=row, payload=payload, now=now)
    row.save(force_insert=True)
    kept: LogbookEntry = LogbookEntry.objects.of(author).get(pk=row.pk)
    return kept


def test_the_author_reads_what_was_written(manager: Person, now: dt.datetime) -> None:
    assert keys.open_for(manager, entry(manager, now)) == PAYLOAD


def test_nobody_else_does_whatever_they_are(
    manager: Person, report: Person, administrator: Person, superuser: Person, now: dt.datetime
) -> None:
    row = entry(manager, now)
    for reader in (report, administrator, superuser):
        entry(reader, now)  # so that they have a key of the same number
        with pytest.raises(CannotOpen, match="authenticity"):
            keys.open_for(reader, row)


def test_a_reader_without_a_key_opens_nothing_and_gets_none_by_trying(
    manager: Person, report: Person, now: dt.datetime
) -> None:
    row = entry(manager, now)
    with pytest.raises(CannotOpen, match="key"):
        keys.open_for(report, row)
    assert not PersonKey.objects.of(report).exists()


def test_a_forged_owner_changes_nothing(manager: Person, report: Person, now: dt.datetime) -> None:
    """The twin: were the key chosen by the row's owner, the first line would open."""
    row, own = entry(manager, now), entry(report, now)
    row.owner = report
    with pytest.raises(CannotOpen):
        keys.open_for(report, row)
    own.owner = manager
    assert keys.open_for(report, own) == PAYLOAD


def test_a_blob_put_into_another_row_of_the_same_person_does_not_open(
    manager: Person, now: dt.datetime
) -> None:
    one, two = entry(manager, now), entry(manager, now, {"words": "Other words."})
    one.blob = two.blob
    with pytest.raises(CannotOpen, match="authenticity"):
        keys.open_for(manager, one)


def test_an_older_blob_put_back_does_not_open(manager: Person, now: dt.datetime) -> None:
    row = entry(manager, now)
    old = row.blob
    row.revision += 1
    keys.seal_for(author=manager, row=row, payload={"words": "Newer words."}, now=now)
    row.save()
    assert keys.open_for(manager, row) == {"words": "Newer words."}
    row.blob = old
    with pytest.raises(CannotOpen, match="authenticity"):
        keys.open_for(manager, row)


def test_a_person_gets_one_key_at_the_first_private_word(manager: Person, now: dt.datetime) -> None:
    assert not PersonKey.objects.of(manager).exists()
    entry(manager, now)
    entry(manager, now)
    row = PersonKey.objects.of(manager).get()
    assert (row.number, row.retired_at, row.created_at) == (1, None, now)


def test_of_two_first_words_at_once_both_get_the_same_key(manager: Person, now: dt.datetime) -> None:
    """The second looked before the first had stored its key: it meets the constraint and takes that key."""
    first = keys.data_key_for(manager, now)
    second = keys._first_key(manager, now)
    assert second.number == first.number
    assert PersonKey.objects.of(manager).count() == 1


def test_the_table_holds_one_key_in_use_for_a_person(manager: Person, now: dt.datetime) -> None:
    keys.data_key_for(manager, now)
    second = PersonKey(person=manager, number=2, wrapped=b"x", created_at=now)
    with pytest.raises(IntegrityError), transaction.atomic():
        second.save(force_insert=True)


def test_a_retired_key_opens_what_it_sealed_and_seals_nothing_new(manager: Person, now: dt.datetime) -> None:
    old = entry(manager, now)
    PersonKey.objects.of(manager).update(retired_at=now)
    new = entry(manager, now)
    assert (old.key_number, new.key_number) == (1, 2)
    assert keys.open_for(manager, old) == keys.open_for(manager, new) == PAYLOAD


def test_without_the_persons_keys_their_words_are_gone(manager: Person, now: dt.datetime) -> None:
    row = entry(manager, now)
    PersonKey.objects.of(manager).delete()
    with pytest.raises(CannotOpen, match="key"):
        keys.open_for(manager, row)


def test_a_copy_of_the_database_without_the_key_outside_it_opens_nothing(
    manager: Person, now: dt.datetime, settings: Any
) -> None:
    row = entry(manager, now)
    settings.KEK_TEXT = OTHER_KEK
    with pytest.raises(CannotOpen, match="key"):
        keys.open_for(manager, row)


def test_after_a_new_key_outside_was_put_first_the_old_one_still_opens(
    manager: Person, report: Person, now: dt.datetime, settings: Any
) -> None:
    row = entry(manager, now)
    old = settings.KEK_TEXT
    settings.KEK_TEXT = f"{OTHER_KEK}\n{old}"
    assert keys.open_for(manager, row) == PAYLOAD
    entry(report, now)
    newest = sealed.parse_keks(OTHER_KEK)[0].id
    assert sealed.wrapped_by(bytes(PersonKey.objects.of(report).get().wrapped)) == newest


def test_without_any_key_outside_nothing_is_sealed_and_nothing_is_stored_in_plain(
    manager: Person, now: dt.datetime, settings: Any
) -> None:
    settings.KEK_TEXT = ""
    with pytest.raises(ImproperlyConfigured):
        entry(manager, now)
    assert not LogbookEntry.objects.of(manager).exists()
    assert not PersonKey.objects.of(manager).exists()


def test_nothing_private_is_in_the_row(manager: Person, now: dt.datetime) -> None:
    row = entry(manager, now)
    stored = b"".join(str(value).encode() for value in vars(row).values()) + bytes(row.blob)
    assert b"night" not in stored
    assert b"question" not in stored


def test_keys_are_not_read_without_naming_whose(manager: Person) -> None:
    with pytest.raises(Unreadable):
        PersonKey.objects.all()
    with pytest.raises(Unreadable):
        PersonKey.objects.filter(person=manager)


def test_opening_many_rows_reads_the_keys_once(manager: Person, now: dt.datetime) -> None:
    rows = [entry(manager, now) for _ in range(10)]
    opener = keys.Opener(manager)
    with queries() as made:
        assert [opener.open(row) for row in rows] == [PAYLOAD] * 10
    assert len([query for query in made if '"oneonone_personkey"' in query["sql"]]) == 1


def test_what_does_not_open_is_logged_by_table_and_id_alone(
    manager: Person, report: Person, now: dt.datetime, caplog: pytest.LogCaptureFixture
) -> None:
    row = entry(manager, now)
    with caplog.at_level(logging.DEBUG), pytest.raises(CannotOpen):
        keys.open_for(report, row)
    (record,) = [record for record in caplog.records if record.name.startswith("oneonone")]
    assert record.getMessage() == f"cannot open oneonone_logbookentry {row.pk}: key"
    assert "night" not in caplog.text
