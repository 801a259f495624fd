"""Settings of a test run: its own data folder and secrets, nothing from the shell, quick password hashes.

The engine comes from `--engine` (tests/needs.py). It is looked up here because the settings are read before
pytest has parsed its options; workers of pytest-xdist inherit the variables set here.
"""

import atexit
import os
import shutil
import sys
import tempfile
from pathlib import Path

from tests.engines import throwaway

ENGINE_VARIABLE = "ONEONONE_TEST_ENGINE"
KEPT = {"ONEONONE_REQUIRE_ALL"}
WORKER = os.environ.get("PYTEST_XDIST_WORKER", "")


def _engine_asked_for() -> str:
    asked = [word.partition("=")[2] for word in sys.argv if word.startswith("--engine=")]
    return asked[-1] if asked else "sqlite"


def _prepare_run() -> None:
    for name in [name for name in os.environ if name.startswith("ONEONONE_") and name not in KEPT]:
        del os.environ[name]
    for name in ("DATABASE_URL", "REDIS_URL"):
        os.environ.pop(name, None)
    data = Path(tempfile.mkdtemp(prefix="oneonone-tests-"))
    atexit.register(shutil.rmtree, data, ignore_errors=True)
    os.environ |= {
        ENGINE_VARIABLE: _engine_asked_for(),
        "ONEONONE_DATA": str(data),
        "ONEONONE_SECRET_KEY": "a key for tests only, long enough to be taken as a key",
        "ONEONONE_KEK": "dGhpcnR5LXR3byBieXRlcyBmb3IgdGhlIHRlc3RzISE=",
        "ONEONONE_BASE_URL": "http://localhost:8000",
    }
    if os.environ[ENGINE_VARIABLE] == "postgresql":
        folder = Path(tempfile.mkdtemp(prefix="oneonone-engines-"))
        atexit.register(throwaway.stop, folder)
        urls = throwaway.start(folder)
        os.environ |= {"DATABASE_URL": urls.database, "REDIS_URL": urls.redis}


def _prepare_worker() -> None:
    """A Redis database and a data folder of this worker's own, as its PostgreSQL database is."""
    data = Path(os.environ["ONEONONE_DATA"]) / WORKER
    data.mkdir(exist_ok=True)
    os.environ["ONEONONE_DATA"] = str(data)
    if url := os.environ.get("REDIS_URL"):
        os.environ["REDIS_URL"] = f"{url.rpartition('/')[0]}/{int(WORKER.removeprefix('gw')) + 1}"


_prepare_worker() if WORKER else _prepare_run()

from oneonone.settings import *  # noqa: E402, F403

ENGINE = os.environ[ENGINE_VARIABLE]
STATICFILES_FINDERS = [
    "django.contrib.staticfiles.finders.AppDirectoriesFinder",
    "tests.collected.CollectedFinder",
]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
# One per test process, so that a test that moves the clock moves nobody else's.
CLOCK_FILE = Path(os.environ["ONEONONE_DATA"]) / f"clock-{os.getpid()}.json"
if ENGINE == "sqlite":
    # Query counts speak of our own rows; that the shared cache is shared is tested where it matters.
    CACHES = {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}
