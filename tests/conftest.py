"""What every test has: an empty cache and a clock that runs true unless the test moves it."""

from collections.abc import Iterator

import pytest
from django.conf import settings
from django.core.cache import cache
from django.db import connection
from pytest_django.plugin import DjangoDbBlocker

from oneonone.serving import staticfiles

pytest_plugins = ["tests.needs", "tests.browsers", "tests.cast", "tests.scene"]


@pytest.fixture(scope="session", autouse=True)
def static_files() -> None:
    """Style and script are joined as they are when a server starts."""
    staticfiles.collect()


@pytest.fixture(autouse=True)
def true_clock() -> Iterator[None]:
    """The clock a test moved or held is set right again after it."""
    yield
    if settings.CLOCK_FILE:
        settings.CLOCK_FILE.unlink(missing_ok=True)


@pytest.fixture(autouse=True)
def empty_cache() -> Iterator[None]:
    """Sign-in attempts counted in one test do not slow down the next."""
    yield
    cache.clear()


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[None]:
    """Before PostgreSQL's test database is dropped, the sessions of threads that have ended are closed."""
    yield
    if connection.vendor == "postgresql":
        with django_db_blocker.unblock(), connection.cursor() as cursor:
            cursor.execute(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
                " WHERE datname = current_database() AND pid <> pg_backend_pid() AND usename = current_user"
            )
