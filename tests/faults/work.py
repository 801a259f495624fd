"""One process of a fault test: ``python -m tests.faults.work ACT [MORE]``, with a server's settings.

``prepare`` migrates an empty database. ``owe NUMBER`` owes as many mails. ``run MINUTES [POINT]`` runs the
jobs until nothing is left, with a clock that is so many minutes ahead; at POINT, one of ``POINTS``, the
process is killed as by a power cut. ``write NUMBER`` adds topics to a line for ever, and says each that was
committed.
``tell`` says what there is in the end.
"""

from __future__ import annotations

import datetime as dt
import json
import os
import signal
import sys
from collections import Counter
from collections.abc import Callable
from typing import Any

import django
from django.core.management import call_command

django.setup()

from oneonone import clock  # noqa: E402
from oneonone.mail import messages  # noqa: E402
from oneonone.models import Deferral, JobHealth, Line, Mail, Notice, Topic  # noqa: E402
from oneonone.services.agenda import topics  # noqa: E402
from oneonone.services.notices import mail_sending, mails  # noqa: E402
from tasks import schedule  # noqa: E402
from tests.cast import make_person  # noqa: E402
from tests.scene import make_line  # noqa: E402


def die(*told: Any, **more: Any) -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def before(module: Any, name: str) -> None:
    """Die in place of the function."""
    setattr(module, name, die)


# Between the claim and the conversation; after the server's go-ahead for the text and before its first byte;
# after the text has been taken and before that is noted.
POINTS: dict[str, Callable[[], None]] = {
    "claimed": lambda: before(messages, "of"),
    "first byte": lambda: before(mail_sending, "begin"),
    "taken": lambda: before(mail_sending, "settle"),
}


def prepare() -> None:
    call_command("migrate", verbosity=0)
    make_line(make_person("Ines Okafor"), make_person("Tomas Lindqvist"), now=clock.now())


def owe(number: int) -> None:
    now = clock.now()
    for place in range(number):
        mails.owe_account_mail(
            to_address=f"p{place}@example.org", person=None, subject=f"Code {place}", body="4711", now=now
        )


def run(minutes: int, point: str = "") -> None:
    if point:
        POINTS[point]()
    now = clock.now() + dt.timedelta(minutes=minutes)
    while schedule.run_once(now).more:
        pass


def write(number: int) -> None:
    line = Line.objects.select_related("manager", "report").get()
    for place in range(10_000):
        title = f"Topic {number}-{place}"
        topics.add(line=line, wording=topics.Wording(title=title), actor=line.someone, now=clock.now())
        sys.stdout.write(f"{title}\n")
        sys.stdout.flush()


def tell() -> None:
    facts = {
        # Those that the test owes; the line owes its own.
        "mails": dict(Counter(Mail.objects.filter(kind="account").values_list("state", flat=True))),
        "notices": Notice.objects.count(),
        "coming": Line.objects.get().meetings.coming().count(),
        "titles": sorted(Topic.objects.values_list("title", flat=True)),
        "failures": sum(JobHealth.objects.values_list("failures", flat=True)),
        "set aside": sorted(Deferral.objects.exclude(error="").values_list("job", "error")),
    }
    sys.stdout.write(json.dumps(facts))


ACTS: dict[str, Callable[..., None]] = {
    "prepare": prepare,
    "owe": lambda number: owe(int(number)),
    "run": lambda minutes, point="": run(int(minutes), point),
    "write": lambda number: write(int(number)),
    "tell": tell,
}

if __name__ == "__main__":
    ACTS[sys.argv[1]](*sys.argv[2:])
