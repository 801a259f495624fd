"""Pages and background jobs in one process: what a first look and a small organisation need."""

import sys
import time
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from oneonone import clock
from oneonone.celery import app
from oneonone.services import demo
from oneonone.serving import database, firststart, launch, server
from oneonone.serving.jobs import EmbeddedJobs, JobsRefused


class Command(BaseCommand):
    help = (
        "Serve the pages and run the background jobs. The first start makes the data folder, its keys and"
        " the tables. With REDIS_URL set the jobs run elsewhere: celery -A oneonone worker, and beat."
    )
    # The environment was judged before (`serving/entry.py`).
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        launch.add_arguments(parser)

    def handle(self, *args: Any, **options: Any) -> None:
        ready = launch.launched
        if ready is None:
            raise CommandError("Start it from the command line: python manage.py serve")
        began = time.monotonic()
        try:
            firststart.refuse_other_kind(demo=ready.demo)
            self._refuse_foreign_key(ready)
            firststart.bring_tables_up_to_date()
        except (firststart.WrongData, database.DatabaseRefused) as refusal:
            raise CommandError(str(refusal)) from refusal
        self._welcome(ready, began)
        jobs = self._start_jobs()
        firststart.close_connection()
        server.run(ready.listener, after=lambda: self._stop(jobs))

    def _refuse_foreign_key(self, ready: launch.Launch) -> None:
        try:
            database.refuse_foreign_key()
        except database.KeyRefused:
            if ready.made_kek:
                # It opens nothing here, and must not be taken for the right one later.
                (ready.data / "keys" / "kek").unlink()
            raise

    def _start_jobs(self) -> EmbeddedJobs | None:
        if settings.REDIS_URL:
            return None
        jobs = EmbeddedJobs(app)
        try:
            jobs.start()
        except JobsRefused as refusal:
            raise CommandError(str(refusal)) from refusal
        return jobs

    def _stop(self, jobs: EmbeddedJobs | None) -> None:
        self._say("Stopping: what is under way is finished first.")
        if jobs and not jobs.stop():
            self._say("A background job did not end in time; its work is taken up again at the next start.")

    def _welcome(self, ready: launch.Launch, began: float) -> None:
        if ready.demo:
            self._welcome_to_demo()
        elif link := firststart.first_administrator_link(settings.DATA, settings.BASE_URL):
            self._say(
                "Nobody is registered here yet. This link works once and makes the first administrator:",
                f"  {link}",
            )
        else:
            self._say(f"One-on-ones are served at {settings.BASE_URL}/")
        jobs = "elsewhere (REDIS_URL is set)" if settings.REDIS_URL else "in this process"
        self._say(
            f"Data: {ready.data}. Background jobs: {jobs}. Ready after {time.monotonic() - began:.1f} s."
            " Ctrl-C stops."
        )

    def _welcome_to_demo(self) -> None:
        people = firststart.load_demo(clock.now())
        width = max((len(person.email) for person in people), default=0)
        self._say(
            f"The demo is served at {settings.BASE_URL}/",
            f"Sign in as one of these; the password is the same for all: {demo.PASSWORD}",
            *(f"  {person.email:{width}}  {person.name} {person.role}" for person in people),
        )

    def _say(self, *lines: str) -> None:
        self.stdout.write("\n".join(lines))
        self.stdout.flush()
        sys.stdout.flush()
