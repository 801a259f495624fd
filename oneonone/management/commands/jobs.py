"""The background jobs by hand: `jobs run` does what is due now, `jobs health` tells whether they run.

For a monitor: `jobs health` ends with 0 when they have run in the last three minutes, and with 1 otherwise.
"""

from __future__ import annotations

import datetime as dt
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from oneonone import clock
from oneonone.models import JobHealth
from oneonone.selectors.notices import background
from tasks import schedule

LATE = 1


class Command(BaseCommand):
    help = "Run the background jobs once, or tell whether they run: the exit status is 1 if they do not."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "act", choices=["run", "health"], help="run: do what is due now; health: list the jobs"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if options["act"] == "run":
            self._run()
        else:
            self._health()

    def _run(self) -> None:
        while True:
            run = schedule.run_once(clock.now())
            for name, count in run.done.items():
                if count:
                    self.stdout.write(f"{name}: {count}")
            if not run.more:
                return

    def _health(self) -> None:
        last, now = background.last_run(), clock.now()
        for health in JobHealth.objects.exclude(job=JobHealth.RUN).order_by("job"):
            done = _told(health.last_success_at) if health.last_success_at else "nothing yet"
            self.stdout.write(f"{health.job}: last did something {done}, failures {health.failures}")
        self.stdout.write(f"last run: {_told(last) if last else 'never'}")
        if background.is_late(last, now):
            raise CommandError("The background jobs do not run.", returncode=LATE)


def _told(instant: dt.datetime) -> str:
    return instant.isoformat(timespec="seconds")
