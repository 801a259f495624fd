"""The logbooks of the demo: a quarter's entries of Tomas and of Ines."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from accounts.models import Person
from oneonone.services.private import logbook

from .scenario import Days


def write(entries: Sequence[Mapping[str, Any]], *, cast: Mapping[str, Person], days: Days) -> None:
    """Each entry on the day it is said to have been entered, else on the day of the event."""
    for entry in entries:
        entered = entry.get("entered", entry["day"])
        logbook.add(
            kind=entry["kind"],
            line=entry["line"],
            event_on=days.on(entry["day"]),
            details=entry.get("details", {}),
            actor=cast[entry["by"]],
            now=days.at(entered, 17),
            today=days.on(entered),
        )
