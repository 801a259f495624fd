"""Rights for a database role of the background jobs' own."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection, transaction

from oneonone.models import rights


class Command(BaseCommand):
    help = (
        "Give a PostgreSQL role, made before, what the background jobs need and no right to read private"
        " rows. Run it as the owner of the tables, and again after every migration."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("role", help="the role that worker and beat connect as")

    def handle(self, *args: Any, role: str, **options: Any) -> None:
        if connection.vendor != "postgresql":
            raise CommandError("Roles are PostgreSQL's: DATABASE_URL names another engine.")
        with connection.cursor() as cursor:
            cursor.execute("SELECT rolsuper OR rolbypassrls FROM pg_roles WHERE rolname = %s", [role])
            found = cursor.fetchone()
        if found is None:
            raise CommandError(f"There is no role {role!r}. Make it first: CREATE ROLE {role} LOGIN")
        if found[0]:
            raise CommandError(f"The role {role!r} passes by row-level security. Take one that does not.")
        with transaction.atomic(), connection.cursor() as cursor:
            for statement in rights.statements(role, connection):
                cursor.execute(statement)
        self.stdout.write(
            f"The role {role} may do what the jobs do; it reads no private row, session or password hash."
        )
