"""A job that takes its time, for tests of what happens to it meanwhile. Loaded by a test's worker alone."""

import time
from pathlib import Path

from celery import shared_task

NAME = "tests.slow"
SECONDS = 4


@shared_task(name=NAME)
def slow(begun: str, ended: str) -> None:
    """Make one file at the beginning and another at the end."""
    Path(begun).touch()
    time.sleep(SECONDS)
    Path(ended).touch()
