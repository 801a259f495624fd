"""System checks with stable ids: what is wrong with the environment, and what would be accepted.

`manage.py check` reports what was set wrongly; missing secrets are reported by `check --deploy` and by every
entry point of a server, so that commands that need none (making migrations, say) run without them.
"""

from collections.abc import Sequence
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, Warning, register
from django.db import connection

from oneonone.environment import Environment, Fault, readable_by_others
from oneonone.serving import datafolder

NEEDED_BY_SERVERS = {"oneonone.E004", "oneonone.E005"}


class EnvironmentRefused(Exception):
    """The environment has faults; the text lists them with what would be accepted."""


def _message(fault: Fault) -> Error:
    return Error(fault.message, hint=fault.hint, id=fault.id)


@register(Tags.security)
def environment_is_understood(**kwargs: Any) -> list[CheckMessage]:
    env: Environment = settings.ENVIRONMENT
    found: list[CheckMessage] = [_message(f) for f in env.faults if f.id not in NEEDED_BY_SERVERS]
    if settings.DEMO and datafolder.kind(settings.DATA) == "real":
        found.append(_demo_on_real_data())
    return found


@register(Tags.security, deploy=True)
def server_can_start(**kwargs: Any) -> list[CheckMessage]:
    env: Environment = settings.ENVIRONMENT
    found: list[CheckMessage] = [_message(f) for f in env.faults if f.id in NEEDED_BY_SERVERS]
    if files := readable_by_others(env.data / "keys"):
        found.append(
            Warning(
                f"Key files can be read by others: {', '.join(file.name for file in files)}.",
                hint="chmod 0400 them; only the account that runs the server needs them.",
                id="oneonone.W001",
            )
        )
    if settings.MAIL_SERVER and settings.MAIL_SERVER.tls == "none" and settings.MAIL_SERVER.user:
        found.append(
            Warning(
                "The mail server's password is sent without TLS.",
                hint="Set tls=starttls or tls=implicit in ONEONONE_MAIL_URL.",
                id="oneonone.W002",
            )
        )
    return found


@register(Tags.database)
def rows_are_secured(databases: Sequence[str] | None = None, **kwargs: Any) -> list[CheckMessage]:
    """PostgreSQL gives private rows to their owner alone, unless the server's role passes by."""
    if not databases or connection.vendor != "postgresql":
        return []
    with connection.cursor() as cursor:
        cursor.execute("SELECT rolsuper OR rolbypassrls FROM pg_roles WHERE rolname = current_user")
        (passes_by,) = cursor.fetchone()
    if not passes_by:
        return []
    return [
        Warning(
            "The database role of this server passes by row-level security.",
            hint="Connect as a role with NOSUPERUSER and NOBYPASSRLS that owns the tables.",
            id="oneonone.W003",
        )
    ]


def refuse_faults() -> None:
    """Called by the entry points of a server: start on a sound environment or not at all."""
    env: Environment = settings.ENVIRONMENT
    faults = [f"{fault.id}: {fault.message} {fault.hint}" for fault in env.faults]
    if faults:
        raise EnvironmentRefused("\n".join(["This server cannot start:", *faults]))


def _demo_on_real_data() -> Error:
    return Error(
        "ONEONONE_DEMO is set, but the data folder holds real data.",
        hint="Leave ONEONONE_DEMO out, or name another folder in ONEONONE_DATA.",
        id="oneonone.E009",
    )
