"""All tables of the database, summed up so that any change shows, and which rows may change at a look.

On PostgreSQL the role of the tests is bound by row-level security and would sum up private tables as empty.
There the sums are made by a function that belongs to the superuser and gives away nothing but counts and
checksums: it looks from inside the transaction of whoever calls it, so that rows that are not committed count
too, and the role that the pages run as stays an ordinary one.
"""

from __future__ import annotations

import functools
import hashlib

from django.apps import apps
from django.db import connection

from tests.security import superuser

# Looking at a page notes in the session, at most once an hour, when it was last used; nothing else.
SESSIONS = frozenset({"accounts_session"})

SUMS = """
CREATE OR REPLACE FUNCTION sums_of_tables(asked text[])
RETURNS TABLE (name text, number bigint, digest text)
LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
DECLARE one text;
BEGIN
  FOREACH one IN ARRAY asked LOOP
    RETURN QUERY EXECUTE format(
      'SELECT %L, count(*), md5(coalesce(string_agg(a_row, E''\\n'' ORDER BY a_row), ''''))'
      ' FROM (SELECT t::text AS a_row FROM %I AS t) AS a_rows', one, one);
  END LOOP;
END $$
"""
# Rows touched by this transaction so far, those that a savepoint took back among them. Row-level security
# hides rows and not these counts.
TOUCHED = "SELECT coalesce(sum(n_tup_ins + n_tup_upd + n_tup_del), 0) FROM pg_stat_xact_user_tables"


def all_tables() -> list[str]:
    """Every table of every installed model, those made for relations of many to many among them."""
    return sorted({model._meta.db_table for model in apps.get_models(include_auto_created=True)})


def sums(*, but: frozenset[str] = SESSIONS) -> dict[str, str]:
    """For each table the number of its rows and a checksum over all their values, in any order."""
    asked = [table for table in all_tables() if table not in but]
    if connection.vendor == "postgresql":
        return _sums_by_superuser(asked)
    found = {}
    with connection.cursor() as cursor:
        for table in asked:
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)}")
            rows = sorted(map(repr, cursor.fetchall()))
            digest = hashlib.blake2b("\n".join(rows).encode(), digest_size=12).hexdigest()
            found[table] = f"{len(rows)} rows {digest}"
    return found


def _sums_by_superuser(asked: list[str]) -> dict[str, str]:
    _install(str(connection.settings_dict["NAME"]))
    with connection.cursor() as cursor:
        cursor.execute("SELECT * FROM sums_of_tables(%s)", [asked])
        return {name: f"{number} rows {digest}" for name, number, digest in cursor.fetchall()}


@functools.cache
def _install(database: str) -> None:
    with superuser.connected() as there:
        there.execute(SUMS)


def touched() -> int:
    """How many rows have been written since the connection (SQLite) or its transaction (PostgreSQL) began.

    Where it is the same before and after, no row was changed, whatever the statements were; that is quicker
    to ask than all sums. A write that was taken back counts, so a difference is only a reason to look.
    """
    if connection.vendor == "sqlite":
        connection.ensure_connection()
        total: int = connection.connection.total_changes
        return total
    with connection.cursor() as cursor:
        cursor.execute(TOUCHED)
        return int(cursor.fetchone()[0])


def changed(before: dict[str, str], after: dict[str, str]) -> list[str]:
    """The names of the tables that are not as they were."""
    return sorted(table for table in before.keys() | after.keys() if before.get(table) != after.get(table))
