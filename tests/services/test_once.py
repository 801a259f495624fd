"""An act that comes with a client key is done once."""

from __future__ import annotations

import datetime as dt
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction

from accounts.models import Person
from oneonone.models import ClientKey, Line, Topic
from oneonone.services import idempotency
from oneonone.services.agenda import topics
from oneonone.services.refusals import OutOfRange, TooLong
from tests.scene import make_topic

pytestmark = pytest.mark.django_db
KEY = uuid4()


def add(line: Line, actor: Person, now: dt.datetime, title: str = "Winter rota") -> Topic:
    return topics.add(line=line, wording=topics.Wording(title=title), actor=actor, now=now, client_key=KEY)


def test_the_same_key_again_gets_the_same_row_back(line: Line, manager: Person, now: dt.datetime) -> None:
    first = add(line, manager, now)
    second = add(line, manager, now, title="Winter rota, typed again")
    assert second.pk == first.pk
    assert Topic.objects.get().title == "Winter rota"


def test_without_a_key_every_act_is_done(line: Line, manager: Person) -> None:
    make_topic(line, manager)
    make_topic(line, manager)
    assert Topic.objects.count() == 2
    assert not ClientKey.objects.exists()


def test_a_key_belongs_to_one_person(line: Line, manager: Person, report: Person, now: dt.datetime) -> None:
    assert add(line, manager, now).pk != add(line, report, now).pk


def test_a_refused_act_leaves_no_key_behind(line: Line, manager: Person, now: dt.datetime) -> None:
    with pytest.raises(TooLong):
        add(line, manager, now, title="")
    assert add(line, manager, now).title == "Winter rota"


def test_a_key_that_was_used_for_another_act_is_refused(
    line: Line, manager: Person, now: dt.datetime
) -> None:
    add(line, manager, now)
    with transaction.atomic(), pytest.raises(OutOfRange) as refusal:
        idempotency.result(actor=manager, client_key=KEY, act="record.write", model=Topic)
    assert refusal.value.field == "client_key"


def test_two_that_both_found_nothing_cannot_both_be_done(manager: Person, now: dt.datetime) -> None:
    """The unique key holds even where the waiting is left out."""
    idempotency.done(actor=manager, client_key=KEY, act="topics.add", subject=uuid4(), now=now)
    with pytest.raises(IntegrityError), transaction.atomic():
        idempotency.done(actor=manager, client_key=KEY, act="topics.add", subject=uuid4(), now=now)


@pytest.mark.django_db(transaction=True)
def test_it_is_asked_inside_the_transaction_of_the_act(manager: Person) -> None:
    with pytest.raises(RuntimeError):
        idempotency.result(actor=manager, client_key=KEY, act="topics.add", model=Topic)
