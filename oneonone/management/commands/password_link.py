"""The single-use link for a forgotten password, made on the machine: also for the only administrator."""

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.urls import reverse

from accounts.models import Person
from accounts.refusals import Refusal
from oneonone import clock
from oneonone.services.people import password_links


class Command(BaseCommand):
    help = (
        "Print a link with which one person sets a new password. It works once and for a day, ends all their"
        " sessions, and leaves them a notice; a second factor is still asked for."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("address", help="the address that the person signs in with")

    def handle(self, *args: Any, address: str, **options: Any) -> None:
        person = Person.objects.with_address(address).first()
        if person is None:
            raise CommandError(
                "Nobody signs in with this address. Accepted: an address as on People and lines."
            )
        try:
            token = password_links.issue(person=person, actor=None, now=clock.now())
        except Refusal as refusal:
            raise CommandError(str(refusal)) from refusal
        self.stdout.write(f"{settings.BASE_URL}{reverse('new-password', args=[token])}")
