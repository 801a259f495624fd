"""The erasure list after a restore: `show` says how many it still names, `apply` erases them again."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from oneonone import clock
from oneonone.services.refusals import UnderHold
from oneonone.services.upkeep import erasure, erasure_list


class Command(BaseCommand):
    help = (
        "After a backup was restored: erase again who was erased since it was made. Run it before people are"
        " let in. `show` only says how many there are."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("act", choices=["show", "apply"])

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            entries = list(erasure_list.read(settings.ERASURE_LIST))
        except (OSError, erasure_list.MalformedList) as fault:
            raise CommandError(f"The erasure list cannot be read: {fault}") from fault
        if options["act"] == "show":
            pending = erasure.pending(settings.ERASURE_LIST)
            self.stdout.write(
                f"Erasures listed: {len(entries)}. Not erased in this database: {len(pending)}."
            )
            return
        self._apply(entries)

    def _apply(self, entries: list[erasure_list.Entry]) -> None:
        erased, held = 0, 0
        for entry in entries:
            try:
                erased += erasure.apply(entry=entry, now=clock.now())
            except UnderHold:
                held += 1
        self.stdout.write(f"Erasures listed: {len(entries)}. Erased again: {erased}.")
        if held:
            raise CommandError(f"Under a legal hold, and therefore not erased: {held}.")
