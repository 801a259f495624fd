"""The routes of signing in at a provider, which are there only once one is configured: asked in a process of
their own, whose settings have one, against a real provider on loopback."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from typing import Any

import pytest

from tests.architecture.tree import PROJECT
from tests.serving.test_oidc import Provider
from tests.settings import ENGINE

PATIENCE_SECONDS = 300


@pytest.fixture
def provider() -> Iterator[Provider]:
    running = Provider()
    running.start()
    try:
        yield running
    finally:
        running.stop()


def test_each_route_of_the_provider_is_as_the_table_says(provider: Provider, record_property: Any) -> None:
    ran = subprocess.run(
        [
            sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-p", "no:xdist",
            "--ds=tests.security.provider_settings", f"--engine={ENGINE}", "tests/security/with_provider.py",
        ],
        cwd=PROJECT,
        env={**_clean(), "PROVIDER_ISSUER": provider.issuer},
        capture_output=True,
        text=True,
        timeout=PATIENCE_SECONDS,
        check=False,
    )  # fmt: skip
    assert ran.returncode == 0, ran.stdout[-4000:]
    assert int(re.findall(r"(\d+) passed", ran.stdout)[0]) >= 14
    said = re.findall(r"matrix: (.*)", ran.stdout)
    record_property("security", f"with a provider: {said[0]}")


def _clean() -> dict[str, str]:
    """This process's own variables, but those by which test processes tell each other what to do."""
    foreign = ("PYTEST_", "ONEONONE_", "DJANGO_", "DATABASE_URL", "REDIS_URL")
    return {name: value for name, value in os.environ.items() if not name.startswith(foreign)}
