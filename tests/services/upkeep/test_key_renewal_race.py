"""A key is renewed while its owner writes: no row is left under a key that is gone."""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Callable

import pytest
from django.db import transaction

from accounts.models import Person
from oneonone.models import LogbookEntry, PersonKey
from oneonone.services.private import keys
from oneonone.services.upkeep import key_renewal
from tests.cast import NOW
from tests.services.test_races import at_once, company

__all__ = ["company"]
LATER = NOW + dt.timedelta(days=30)
HELD_SECONDS = 0.3  # long enough for the other to overtake, if nothing kept it back


def write(author: Person, words: str) -> None:
    row = LogbookEntry(owner=author, created_on=NOW.date(), changed_on=NOW.date())
    keys.seal_for(author=author, row=row, payload={"words": words}, now=NOW)
    row.save(force_insert=True)


def write_slowly_and_renew(author: Person) -> None:
    def writing(wait: Callable[[], object]) -> None:
        with transaction.atomic():
            write(author, "Second.")
            wait()
            time.sleep(HELD_SECONDS)

    def renewing(wait: Callable[[], object]) -> None:
        wait()
        key_renewal.new_data_key(person=author, made_before=LATER, now=LATER)
        key_renewal.reseal(person=author)

    at_once(writing, renewing)


def test_what_is_being_sealed_is_waited_for_and_renewed_too(company: dict[str, Person]) -> None:
    author = company["manager"]
    write(author, "First.")
    write_slowly_and_renew(author)
    opener = keys.Opener(author)
    assert {opener.open(row)["words"] for row in LogbookEntry.objects.of(author)} == {"First.", "Second."}
    assert [key.number for key in PersonKey.objects.of(author)] == [2]


@pytest.mark.postgresql
def test_without_the_hold_on_the_key_a_row_would_be_lost(
    company: dict[str, Person], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The twin: the test above hangs on the lock that sealing takes."""
    held = keys._in_use
    monkeypatch.setattr(keys, "_in_use", lambda person, hold=False: held(person))
    author = company["manager"]
    write(author, "First.")
    write_slowly_and_renew(author)
    numbers = {key.number for key in PersonKey.objects.of(author)}
    assert set(LogbookEntry.objects.of(author).values_list("key_number", flat=True)) - numbers == {1}
