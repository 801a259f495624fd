"""One process of a race between several: ``python -m tests.tasks.race ACT FOLDER``, with a server's settings.

``prepare`` migrates an empty database and makes work of every kind fall due at one instant. ``work`` and
``unguarded`` wait for the file FOLDER/go, so that all begin together, and then run the jobs until nothing is
left; ``unguarded`` takes mails without claiming them. ``tell`` says what there is in the end.
"""

from __future__ import annotations

import datetime as dt
import json
import os
import sys
import time
from collections import Counter
from pathlib import Path
from uuid import uuid4

import django
from django.conf import settings
from django.core.management import call_command

django.setup()

from accounts.models import Person  # noqa: E402
from oneonone import clock, mailfolder  # noqa: E402
from oneonone.celery import TICK  # noqa: E402
from oneonone.models import Carry, JobHealth, Mail, Meeting, Notice, Order, Side, Tick  # noqa: E402
from oneonone.services.commitments import commitments  # noqa: E402
from oneonone.services.meetings import meetings  # noqa: E402
from oneonone.services.notices import mail_sending, mail_wishes  # noqa: E402
from oneonone.services.notices.mail_sending import Claimed  # noqa: E402
from tasks import schedule  # noqa: E402
from tests.cast import make_person  # noqa: E402
from tests.scene import WEEKLY, coming_of, make_line, make_topic  # noqa: E402

MONDAY = dt.datetime(2026, 11, 30, 9, 0, tzinfo=dt.UTC)
WEDNESDAY = dt.datetime(2026, 12, 2, 10, 0, tzinfo=dt.UTC)
NOW = dt.datetime(2026, 12, 4, 9, 0, tzinfo=dt.UTC)
REPORTS = ("Tomas Lindqvist", "Maja Ferreira", "Leila Castell", "Bea Moreau")


def prepare() -> None:
    """Four weekly lines that met on Wednesday: two open commitments each, and invitations due by Friday."""
    call_command("migrate", verbosity=0)
    manager = make_person("Ines Okafor")
    wish_for_mail_at_nine(manager)
    for name in REPORTS:
        report = make_person(name)
        wish_for_mail_at_nine(report)
        line = make_line(manager, report, terms=WEEKLY, now=MONDAY)
        make_topic(line, report, now=MONDAY)
        for side in Side:
            commitments.take_on(
                line=line,
                owner_side=side,
                action="Check the pontoon",
                how_known="",
                date=WEDNESDAY.date() + dt.timedelta(days=5),
                actor=manager if side is Side.MANAGER else report,
                now=MONDAY,
            )
        meeting = coming_of(line)
        meetings.start(meeting=meeting, actor=manager, now=WEDNESDAY)
        meetings.close(meeting=meeting, actor=manager, now=WEDNESDAY + dt.timedelta(minutes=30))
    clock.hold_at(NOW)


def wish_for_mail_at_nine(person: Person) -> None:
    """So that the day's mail is due at the instant of the race."""
    mail_wishes.change(actor=person, digest_at=NOW.time(), off=[], now=MONDAY)


def work(folder: Path) -> None:
    (folder / f"ready-{os.getpid()}").touch()
    while not (folder / "go").exists():
        time.sleep(0.005)
    took = schedule.take_slot("tick", clock.now(), every=TICK)
    until = time.monotonic() + 60
    there = False
    # Whoever finds nothing due while another makes the mails looks again: all are to race for them.
    while schedule.run_once(clock.now()).more or not (there or time.monotonic() > until):
        there = Mail.objects.exists()
    sys.stdout.write(json.dumps({"took the slot": took}))


def take_without_claiming(now: dt.datetime) -> Claimed | None:
    """Read first and write later, as a sender without a conditional update does."""
    mail = Mail.objects.filter(state=Mail.State.QUEUED, not_before__lte=now).first()
    if mail is None:
        return None
    time.sleep(0.5)
    claim = uuid4()
    Mail.objects.filter(pk=mail.pk).update(state=Mail.State.CLAIMED, claim=claim, claimed_at=now)
    return mail_sending._still_to_send(mail.pk, claim, now)


def tell() -> None:
    folder: Path = settings.DATA / "mail"
    copies = Counter(
        line
        for path in folder.glob("new/*")
        for line in path.read_text(encoding="utf-8").splitlines()
        if line.startswith("Message-ID:")
    )
    facts = {
        "meetings": Meeting.objects.count(),
        "carries": Carry.objects.count(),
        "orders": Order.objects.count(),
        "notices": dict(Counter(Notice.objects.values_list("kind", flat=True))),
        "mails": dict(Counter(Mail.objects.values_list("state", flat=True))),
        "letters": len(mailfolder.letters(folder)),
        "most copies of one": max(copies.values(), default=0),
        "slots": Tick.objects.filter(schedule="tick").count(),
        "failures": sum(JobHealth.objects.values_list("failures", flat=True)),
    }
    sys.stdout.write(json.dumps(facts))


def main(act: str, folder: Path) -> None:
    if act == "prepare":
        prepare()
    elif act == "tell":
        tell()
    else:
        if act == "unguarded":
            mail_sending.claim_one = take_without_claiming
        work(folder)


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]))
