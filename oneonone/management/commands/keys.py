"""The keys of private text: `keys show` lists, `keys renew` renews, `keys check` says what old ones hold."""

from __future__ import annotations

import contextlib
import datetime as dt
from argparse import ArgumentParser
from collections.abc import Iterable
from typing import Any

from django.core.exceptions import ImproperlyConfigured
from django.core.management.base import BaseCommand, CommandError

from accounts.models import Person
from oneonone import clock
from oneonone.selectors.private import key_usage
from oneonone.selectors.private.keys import key_encryption_keys
from oneonone.services.upkeep import key_renewal


class Command(BaseCommand):
    help = (
        "Show, renew or check the keys of private text. `renew` alone puts everything under the first"
        " key-encryption key; `renew --people` and `renew --person` also give people new data keys and seal"
        " their rows anew. It can be stopped at any moment and started again; the server may run meanwhile."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("act", choices=["show", "renew", "check"])
        whose = parser.add_mutually_exclusive_group()
        whose.add_argument("--people", action="store_true", help="renew: new data keys for everybody")
        whose.add_argument("--person", metavar="ADDRESS", help="renew: a new data key for this one person")
        parser.add_argument(
            "--made-before",
            metavar="INSTANT",
            help="renew: leave data keys made from this instant on, to go on with a run that was cut short",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            key_encryption_keys()
        except ImproperlyConfigured as fault:
            raise CommandError(str(fault)) from fault
        if options["act"] != "renew" and (options["people"] or options["person"] or options["made_before"]):
            raise CommandError("--people, --person and --made-before go with renew.")
        if options["act"] == "renew":
            self._renew(options)
        else:
            self._tell(check=options["act"] == "check")

    def _renew(self, options: dict[str, Any]) -> None:
        now = clock.now()
        made_before = self._instant(options["made_before"]) or now
        whose: Iterable[Person] = key_renewal.everybody()
        new_keys = options["people"] or options["person"]
        if options["person"]:
            whose = Person.objects.with_address(options["person"])
            if not whose:
                raise CommandError(
                    "Nobody signs in with this address. Accepted: an address as on People and lines."
                )
        if options["people"]:
            self.stdout.write(f"If this is cut short, go on with: --made-before {made_before.isoformat()}")
        done, replaced = key_renewal.Renewed(), 0
        for person in whose:
            done += key_renewal.rewrap_keys(person=person) + key_renewal.relock_second_factors(person=person)
            if new_keys:
                replaced += key_renewal.new_data_key(person=person, made_before=made_before, now=now)
            # Also for an earlier renewal that was cut short.
            done += key_renewal.reseal(person=person)
        if not options["person"]:
            done += key_renewal.relock_sessions() + key_renewal.relock_mails()
        self.stdout.write(
            f"New data keys: {replaced}. Renewed: {done.rows}. Left because unopened: {done.left}."
        )
        if done.left:
            raise CommandError("Some could not be opened and are as they were; see `keys check`.")

    def _instant(self, typed: str | None) -> dt.datetime | None:
        if typed is None:
            return None
        with contextlib.suppress(ValueError):
            instant = dt.datetime.fromisoformat(typed)
            if instant.tzinfo is not None:
                return instant
        raise CommandError("--made-before takes an instant with its offset: 2026-11-25T10:00:00+00:00")

    def _tell(self, *, check: bool) -> None:
        keks = key_encryption_keys()
        held = key_usage.held(key_renewal.everybody())
        for place, kek in enumerate(keks):
            use = "in use" if place == 0 else "older"
            self.stdout.write(
                f"{kek.id}  {use}: {held.wrapped[kek.id]} data keys,"
                f" {held.locked[kek.id]} secrets of second factors,"
                f" {held.sessions[kek.id]} sessions, {held.mails[kek.id]} texts of mails"
            )
        known = {kek.id for kek in keks}
        for kek_id in sorted(held.ids() - known):
            self.stdout.write(f"{kek_id}  not at hand: holds {held.by(kek_id)}")
        self.stdout.write(
            f"Private rows: {held.in_use} under the data keys in use of {held.people} people,"
            f" {held.retired} under retired ones, {held.orphans} under none."
        )
        if check:
            self._judge(held, [kek.id for kek in keks])

    def _judge(self, held: key_usage.Held, ids: list[str]) -> None:
        older = [kek_id for kek_id in ids[1:] if held.by(kek_id)]
        for kek_id in ids[1:]:
            self.stdout.write(
                f"{kek_id} still holds {held.by(kek_id)}: run `keys renew`."
                if kek_id in older
                else f"{kek_id} holds nothing here: keep it only as long as a backup from before needs it."
            )
        if held.shut or held.orphans:
            raise CommandError(
                f"Cannot be opened: {held.shut} keys, secrets, sessions and texts of mails,"
                f" {held.orphans} rows whose key is gone."
            )
        if not older and not held.retired:
            self.stdout.write("Everything opens, and everything is under the keys in use.")
