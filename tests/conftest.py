"""What every test has: an empty cache and a clock that runs true unless the test moves it."""

from collections.abc import Iterator

import pytest
from django.conf import settings
from django.core.cache import cache

pytest_plugins = ["tests.needs", "tests.browsers", "tests.cast", "tests.scene"]


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
