"""The demo as every test of it finds it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

import pytest
from django.db import transaction
from django.test import override_settings
from pytest_django import DjangoDbBlocker

from oneonone.services import demo

WEDNESDAY = dt.datetime(2026, 11, 25, 7, 5, tzinfo=dt.UTC)


@pytest.fixture(scope="module")
def loaded(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[dt.datetime]:
    """The demo as it is first started on Wednesday 25 November 2026 at 07:05."""
    with django_db_blocker.unblock(), override_settings(DEMO=True), transaction.atomic():
        demo.load(WEDNESDAY)
        yield WEDNESDAY
        transaction.set_rollback(True)


@pytest.fixture
def company(loaded: dt.datetime, db: None) -> dt.datetime:
    return loaded
