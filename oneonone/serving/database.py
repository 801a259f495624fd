"""Checks of the database before the start. Each refusal is one line that says what to do."""

from __future__ import annotations

from pathlib import Path

from django.db import DatabaseError, connection
from django.db.migrations.exceptions import InconsistentMigrationHistory
from django.db.migrations.executor import MigrationExecutor
from django.db.utils import ProgrammingError

from oneonone import outages
from oneonone.selectors.private import key_usage
from oneonone.selectors.private.keys import key_encryption_keys

PEOPLE_ASKED = 100  # whose keys tell whether the key-encryption key belongs to the database


class DatabaseRefused(Exception):
    """The database cannot be used; the text says why and what to do, in one line."""


class KeyRefused(DatabaseRefused):
    """This server does not have the key-encryption key of the private text in the database."""


def refuse_unusable(*, migrated: bool) -> None:
    """Refuse a database that is unreachable, damaged, newer than the code or, if `migrated`, older."""
    try:
        _refuse_damaged_file()
        _refuse_other_version(migrated=migrated)
    except ProgrammingError:
        # A role that may not read the list of migrations, such as the jobs' own: the pages look at it.
        return
    except DatabaseError as fault:
        raise DatabaseRefused(_away(fault)) from fault
    finally:
        # The process may fork, and its threads open connections of their own.
        connection.close()


def refuse_foreign_key() -> None:
    """Refuse a key-encryption key that opens none of the data keys that the first hundred people have."""
    try:
        known = {kek.id for kek in key_encryption_keys()}
        found = key_usage.some_wrapping_keys(most=PEOPLE_ASKED)
    except DatabaseError:
        return  # no tables yet, or those of another version, which has its own check
    finally:
        connection.close()
    if found and not found & known:
        raise KeyRefused(
            "The private text in this database is under another key-encryption key: put the one it was made"
            " with into keys/kek of the data folder, or into ONEONONE_KEK."
        )


def _refuse_damaged_file() -> None:
    if connection.vendor != "sqlite":
        return
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA quick_check(1)")
        (found,) = cursor.fetchone()
    if found != "ok":
        raise DatabaseRefused(_damaged(str(found)))


def _refuse_other_version(*, migrated: bool) -> None:
    executor = MigrationExecutor(connection)
    loader = executor.loader
    known = set(loader.disk_migrations)
    for replacing in loader.replacements.values():
        known.update(replacing.replaces)
    newer = sorted(
        f"{app}.{name}"
        for app, name in loader.applied_migrations
        if app in loader.migrated_apps and (app, name) not in known
    )
    if newer:
        raise DatabaseRefused(
            f"The database is newer than this program ({newer[-1]} is not known here): start the version that"
            " it was last used with, or a later one."
        )
    if migrated and _is_older(executor):
        raise DatabaseRefused("The database is older than this program: run manage.py migrate first.")


def _is_older(executor: MigrationExecutor) -> bool:
    try:
        return bool(executor.migration_plan(executor.loader.graph.leaf_nodes()))
    except InconsistentMigrationHistory:
        return True


def _away(fault: DatabaseError) -> str:
    why = outages.reason(fault) or str(fault).strip().partition("\n")[0]
    if connection.vendor != "sqlite":
        return f"The database that DATABASE_URL names cannot be reached: {why}."
    if "unable to open" in why:
        return f"The database file {_file()} cannot be opened: its folder has to be there and writable."
    return _damaged(why)


def _damaged(why: str) -> str:
    return f"The database file {_file()} is damaged ({_one_line(why)}): put a backup in its place."


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _file() -> Path:
    return Path(str(connection.settings_dict["NAME"]))
