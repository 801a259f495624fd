"""The invented company of the demo: Alder Quay Ferries, loaded once, its dates hung on the day of the first
start.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.conf import settings
from django.db import transaction
from django.utils.translation import gettext_lazy as _

from accounts.models import Person
from accounts.refusals import Refusal
from oneonone.services.agenda import duration_history

from . import ahead, company, logbooks, notices, today, year
from .scenario import Days, read

PASSWORD = company.PASSWORD
COUNTED = -8

__all__ = ["PASSWORD", "Account", "NotTheDemo", "load", "people"]


class NotTheDemo(Refusal):
    """Invented people are put nowhere but into an empty demo."""

    text = _("The demo is loaded into an empty demo only.")
    accepted = _("A server started with --demo on a new data folder.")


@dataclass(frozen=True)
class Account:
    """Somebody to sign in as, and their part in the scenario."""

    email: str
    name: str
    role: str


@transaction.atomic
def load(now: dt.datetime) -> None:
    """Load the company with a year of meetings up to ``now``, and one meeting issued for this very day.

    Every date is counted from the day of ``now`` in London. Refused outside the demo, and where people are.
    """
    if not settings.DEMO or Person.objects.exists():
        raise NotTheDemo
    days = Days(now)
    scenario = read()
    cast = company.make(scenario.company, days=days)
    lines = year.tell(scenario.company["line"], scenario.past["talk"], cast=cast, days=days)
    duration_history.count(now=days.at(COUNTED, 3))
    lines["ines-tomas"] = today.tell(scenario.today, cast=cast, days=days)
    ahead.lay_out(scenario.coming, lines=lines, cast=cast, days=days)
    ahead.propose(scenario.coming["proposal"], lines=lines, cast=cast, days=days)
    ahead.invite(scenario.company["invited"], cast=cast, days=days)
    logbooks.write(scenario.logbook["entry"], cast=cast, days=days)
    ahead.catch_up(days=days)
    notices.settle(days=days)


def people() -> tuple[Account, ...]:
    """Whom a newcomer may sign in as, the most telling first; nobody where the demo is not loaded."""
    shown = sorted((row for row in read().company["person"] if "shown" in row), key=lambda row: row["shown"])
    here = set(Person.objects.filter(is_demo=True).values_list("email", flat=True))
    accounts = (Account(company.address_of(row["name"]), row["name"], row["role"]) for row in shown)
    return tuple(account for account in accounts if account.email in here)
