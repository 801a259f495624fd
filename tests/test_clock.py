"""The clock runs true on a real server; in the demo and in tests it moves on for all processes at once."""

import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from pytest_django import Settings

from oneonone import clock

NINE = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


def test_it_tells_real_time_in_utc_until_it_is_moved() -> None:
    before = datetime.now(UTC)
    present = clock.now()
    assert before <= present <= datetime.now(UTC)
    assert present.tzinfo is UTC


def test_moving_on_adds_up() -> None:
    clock.move_on(timedelta(days=3))
    clock.move_on(timedelta(hours=2))
    ahead = clock.now() - datetime.now(UTC)
    assert timedelta(days=3, hours=1, minutes=59) < ahead <= timedelta(days=3, hours=2)


def test_a_held_clock_stands_and_moves_on_from_there() -> None:
    clock.hold_at(NINE)
    assert (clock.now(), clock.now()) == (NINE, NINE)
    assert clock.move_on(timedelta(days=1)) == datetime(2026, 3, 3, 9, 0, tzinfo=UTC)
    assert clock.now() == datetime(2026, 3, 3, 9, 0, tzinfo=UTC)


def test_it_does_not_run_backwards() -> None:
    with pytest.raises(ValueError, match="only moves on"):
        clock.move_on(timedelta(seconds=-1))


def test_it_is_held_at_an_instant_not_at_a_wall_time() -> None:
    with pytest.raises(ValueError, match="aware"):
        clock.hold_at(datetime(2026, 3, 2, 9, 0))  # noqa: DTZ001


def test_a_real_clock_is_refused_to_be_moved(settings: Settings) -> None:
    settings.CLOCK_FILE = None
    with pytest.raises(clock.ClockIsReal):
        clock.move_on(timedelta(days=1))
    with pytest.raises(clock.ClockIsReal):
        clock.hold_at(NINE)


def test_every_process_of_a_demo_sees_the_same_time(settings: Settings, tmp_path: Path) -> None:
    settings.CLOCK_FILE = tmp_path / "deep" / "clock.json"
    clock.hold_at(NINE)
    script = (
        "from django.conf import settings; from pathlib import Path; import sys;"
        "settings.configure(CLOCK_FILE=Path(sys.argv[1]));"
        "from oneonone import clock; print(clock.now().isoformat())"
    )
    told = subprocess.run(
        [sys.executable, "-c", script, str(settings.CLOCK_FILE)],
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
        cwd=settings.BASE_DIR,
    )
    assert told.stdout.strip() == "2026-03-02T09:00:00+00:00"
