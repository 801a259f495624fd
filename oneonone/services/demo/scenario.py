"""The texts of the demo, and its days: all of them are counted from the day of the first start."""

from __future__ import annotations

import datetime as dt
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings

ZONE = "Europe/London"
SATURDAY = 6


@dataclass(frozen=True)
class Scenario:
    """What stands in the files of ``fixtures/demo``, one a field."""

    company: dict[str, Any]
    past: dict[str, Any]
    today: dict[str, Any]
    coming: dict[str, Any]
    logbook: dict[str, Any]


def read() -> Scenario:
    folder = Path(settings.BASE_DIR) / "fixtures" / "demo"

    def table(name: str) -> dict[str, Any]:
        return tomllib.loads((folder / f"{name}.toml").read_text(encoding="utf-8"))

    return Scenario(
        company=table("company"),
        past=table("past"),
        today=table("today"),
        coming=table("coming"),
        logbook=table("logbook"),
    )


class Days:
    """The calendar of the scenario. Day 0 is the day of ``now`` in London, -7 a week before it."""

    def __init__(self, now: dt.datetime) -> None:
        self.now = now
        self.today = now.astimezone(ZoneInfo(ZONE)).date()

    def on(self, day: int) -> dt.date:
        return self.today + dt.timedelta(days=day)

    def weekday_on(self, day: int) -> dt.date:
        """That day, or the Monday after it when it is at a weekend."""
        date = self.on(day)
        return date + dt.timedelta(days=max(0, 8 - date.isoweekday()) if date.isoweekday() >= SATURDAY else 0)

    def weekday_to(self, day: int) -> int:
        """That day, or the Friday before it when it is at a weekend."""
        return day - max(0, self.on(day).isoweekday() - SATURDAY + 1)

    def at(self, day: int, hour: int = 12, minute: int = 0) -> dt.datetime:
        """An instant by the clocks of London, in UTC."""
        return moment(self.on(day), dt.time(hour, minute))


def moment(date: dt.date, time: dt.time) -> dt.datetime:
    """A day and a time in London as an instant in UTC."""
    return dt.datetime.combine(date, time, ZoneInfo(ZONE)).astimezone(dt.UTC)
