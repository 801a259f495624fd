"""The background jobs by hand: `jobs run` does what is due now, `jobs health` tells when each ran well."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from oneonone import clock
from oneonone.models import JobHealth
from tasks import schedule


class Command(BaseCommand):
    help = "Run the background jobs once, or tell when each last ran well."

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
        for health in JobHealth.objects.order_by("job"):
            last = health.last_success_at.isoformat(timespec="seconds") if health.last_success_at else "never"
            self.stdout.write(f"{health.job}: last ran well {last}, failures {health.failures}")
