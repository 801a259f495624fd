"""Settings of a test run: a data folder and secrets of its own, nothing taken from the shell, quick password
hashes.

The engine comes from `--engine` (see tests/conftest.py). It is looked up here because the settings are read
before pytest has parsed its options; workers of pytest-xdist inherit the variables set here.
"""

import os
import sys
import tempfile
from pathlib import Path

ENGINE_VARIABLE = "ONEONONE_TEST_ENGINE"
_KEPT = {ENGINE_VARIABLE, "ONEONONE_REQUIRE_ALL", "ONEONONE_DATA"}


def _engine() -> str:
    asked = [word.partition("=")[2] for word in sys.argv if word.startswith("--engine=")]
    return asked[-1] if asked else os.environ.get(ENGINE_VARIABLE, "sqlite")


if "PYTEST_XDIST_WORKER" not in os.environ:
    for _name in [name for name in os.environ if name.startswith("ONEONONE_") and name not in _KEPT]:
        del os.environ[_name]
    os.environ.pop("DATABASE_URL", None)
    os.environ.pop("REDIS_URL", None)
    os.environ |= {
        ENGINE_VARIABLE: _engine(),
        "ONEONONE_DATA": tempfile.mkdtemp(prefix="oneonone-tests-"),
        "ONEONONE_SECRET_KEY": "a key for tests only, long enough to be taken as a key",
        "ONEONONE_KEK": "dGhpcnR5LXR3byBieXRlcyBmb3IgdGhlIHRlc3RzISE=",
        "ONEONONE_BASE_URL": "http://localhost:8000",
    }

from oneonone.settings import *  # noqa: E402, F403

ENGINE = os.environ[ENGINE_VARIABLE]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
# One per test process, so that a test that moves the clock moves nobody else's.
CLOCK_FILE = Path(os.environ["ONEONONE_DATA"]) / f"clock-{os.getpid()}.json"
# Query counts speak of our own rows; what the shared cache promises is tested where it is used.
CACHES = {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}
