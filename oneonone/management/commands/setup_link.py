"""The one-time link for the first administrator, where pages are not started by `serve`."""

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from oneonone.serving import firststart


class Command(BaseCommand):
    help = (
        "Print the link that makes the first administrator of an empty server. Run it where pages run: the"
        " link is checked against the data folder."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        link = firststart.first_administrator_link(settings.DATA, settings.BASE_URL)
        if link is None:
            raise CommandError("There are people already: an administrator invites the next ones.")
        self.stdout.write(link)
