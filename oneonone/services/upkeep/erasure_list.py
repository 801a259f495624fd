"""The list of erased people, kept outside the database, because a restored backup does not contain it.

One line of JSON for each erasing, added and never changed: the id of the person, of who did it, and when. No
name and no address. A line is on the disk before the erasing is committed; at worst it names somebody whose
erasing was cut short, and applying the list completes it.
"""

from __future__ import annotations

import datetime as dt
import json
import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from uuid import UUID


@dataclass(frozen=True)
class Entry:
    """One erasing."""

    person: UUID
    by: UUID
    at: dt.datetime


class MalformedList(ValueError):
    """A line of the list cannot be read. Names the line."""


def append(file: Path, entry: Entry) -> None:
    """Add a line and wait until it is on the disk. OSError when it cannot be kept."""
    file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    line = json.dumps({"person": str(entry.person), "by": str(entry.by), "at": entry.at.isoformat()})
    # A single append, so that two concurrent erasures do not mix their lines.
    handle = os.open(file, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600)
    try:
        os.write(handle, f"{line}\n".encode())
        os.fsync(handle)
    finally:
        os.close(handle)


def read(file: Path) -> Iterator[Entry]:
    """The erasings in the order in which they came; none where there is no list."""
    if not file.exists():
        return
    for number, line in enumerate(file.read_text(encoding="utf-8").splitlines(), start=1):
        try:
            said = json.loads(line)
            entry = Entry(UUID(said["person"]), UUID(said["by"]), dt.datetime.fromisoformat(said["at"]))
        except (ValueError, KeyError, TypeError):
            raise MalformedList(f"Line {number} of {file} is no entry of an erasure list.") from None
        yield entry
