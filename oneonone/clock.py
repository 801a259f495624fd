"""The one clock, read only at the edge (pages, jobs, commands); below it `now` is an argument.

In the demo and in tests the clock can be moved on: the difference to real time is kept in a small file that
every process of the same demo or test reads, so that pages, worker and beat agree. Elsewhere there is no such
file.
"""

import json
import os
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

from django.conf import settings


class ClockIsReal(Exception):
    """The clock of a real server cannot be moved."""


def now() -> datetime:
    """The present instant in UTC: real time, or in the demo and in tests what the clock file makes of it."""
    file: Path | None = settings.CLOCK_FILE
    if file is None:
        return datetime.now(UTC)
    held, offset = _read(file)
    return held if held is not None else datetime.now(UTC) + offset


def move_on(by: timedelta) -> datetime:
    """Move the shared clock forward by `by` and return the new present. Time does not run backwards."""
    if by < timedelta(0):
        raise ValueError("The clock only moves on.")
    file = _file()
    held, offset = _read(file)
    if held is not None:
        _write(file, {"held_at": (held + by).isoformat()})
    else:
        _write(file, {"ahead_seconds": (offset + by).total_seconds()})
    return now()


def hold_at(instant: datetime) -> None:
    """Stop the shared clock at `instant` (aware), so that a test can use literal dates."""
    if instant.tzinfo is None:
        raise ValueError("An aware instant is needed.")
    _write(_file(), {"held_at": instant.astimezone(UTC).isoformat()})


def _file() -> Path:
    file: Path | None = settings.CLOCK_FILE
    if file is None:
        raise ClockIsReal("Only the clock of the demo and of tests can be moved.")
    return file


def _read(file: Path) -> tuple[datetime | None, timedelta]:
    """Where the clock is held, if it is, and how far it is ahead of real time."""
    try:
        state = json.loads(file.read_text(encoding="ascii"))
    except FileNotFoundError:
        return None, timedelta(0)
    if "held_at" in state:
        return datetime.fromisoformat(state["held_at"]), timedelta(0)
    return None, timedelta(seconds=state["ahead_seconds"])


def _write(file: Path, state: dict[str, str | float]) -> None:
    """Replace the file whole: a reader sees the old state or the new one."""
    file.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=file.parent, prefix=file.name)
    with os.fdopen(handle, "w", encoding="ascii") as stream:
        json.dump(state, stream)
    Path(name).replace(file)
