"""What a server does between opening the port and the first page: tables, demo people, setup link."""

from datetime import datetime
from pathlib import Path
from typing import Any

from django.contrib.auth import get_user_model
from django.core.management import call_command
from django.db import connection, models

from oneonone.services import demo as company
from oneonone.serving import setup_link


class WrongData(Exception):
    """The database holds the other kind of data; the text says what to do, in one line."""


def bring_tables_up_to_date() -> None:
    call_command("migrate", interactive=False, verbosity=0)
    call_command("createcachetable", verbosity=0)


def refuse_other_kind(*, demo: bool) -> None:
    """The folder may be new while DATABASE_URL names a database that is not, so its rows are asked too.

    Asked before the tables are touched: a refused start changes nothing.
    """
    people = _people()
    if people.model._meta.db_table not in connection.introspection.table_names():
        return
    if demo and people.filter(is_demo=False).exists():
        raise WrongData(
            "The database holds real data: the demo does not start there. Leave DATABASE_URL out."
        )
    if not demo and people.filter(is_demo=True).exists():
        raise WrongData("The database holds the demo: add --demo, or name another database in DATABASE_URL.")


def load_demo(now: datetime) -> tuple[company.Account, ...]:
    """Load the demo company once, with dates relative to the day of `now`. Returns who can sign in."""
    if not _people().exists():
        company.load(now)
    return company.people()


def first_administrator_link(folder: Path, base_url: str) -> str | None:
    """The one-time address for making the first administrator, or None where there are people already."""
    if _people().exists():
        setup_link.withdraw(folder)
        return None
    return f"{base_url}/setup/{setup_link.issue(folder)}/"


def close_connection() -> None:
    """Close the connection of the starting thread. Pages and jobs open their own."""
    connection.close()


def _people() -> models.QuerySet[Any]:
    manager: models.Manager[Any] = get_user_model()._default_manager
    return manager.all()
