"""System checks with stable ids: what is wrong with the environment, and what is accepted.

`manage.py check` reports invalid values. Missing secrets are reported only by `check --deploy` and by the
entry points of a server, so that commands that need none, such as `makemigrations`, run without them.
"""

from collections.abc import Sequence
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, Warning, register
from django.db import connection

from oneonone.environment import Environment, Fault, readable_by_others
from oneonone.serving import datafolder

NEEDED_BY_SERVERS = {"oneonone.E004", "oneonone.E005"}


REDIS_UNUSABLE = "oneonone.E003"
REDIS_MISSING = Fault(
    "oneonone.E013",
    "REDIS_URL is not set, and pages, worker and beat that run as processes of their own need it.",
    "redis://:password@host:6379/0; or run everything in one process with `manage.py serve`.",
)


class EnvironmentRefused(Exception):
    """The environment has a fault. The text, one line, has the first fault and what is accepted."""


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
    if env.https and not env.proxy_count:
        found.append(
            Error(
                "ONEONONE_BASE_URL is https, but ONEONONE_PROXY_COUNT is 0: every page answers with a"
                " redirect to itself.",
                hint="Set ONEONONE_PROXY_COUNT to how many proxies are in front of this server, 1 for the one"
                " that ends TLS, and let it send X-Forwarded-Proto.",
                id="oneonone.E014",
            )
        )
    return found


@register(Tags.database)
def rows_are_secured(databases: Sequence[str] | None = None, **kwargs: Any) -> list[CheckMessage]:
    """Warn if the server's PostgreSQL role bypasses row-level security of private rows."""
    if not databases or connection.vendor != "postgresql":
        return []
    with connection.cursor() as cursor:
        cursor.execute("SELECT rolsuper OR rolbypassrls FROM pg_roles WHERE rolname = current_user")
        (passes_by,) = cursor.fetchone()
    if not passes_by:
        return []
    return [
        Warning(
            "The database role of this server bypasses row-level security.",
            hint="Connect as a role with NOSUPERUSER and NOBYPASSRLS that owns the tables.",
            id="oneonone.W003",
        )
    ]


def refuse_faults(*, apart: bool) -> None:
    """Refuse to start with a fault in the environment. Every entry point calls this.

    ``apart``: pages and jobs run in separate processes, which need Redis to communicate.
    """
    env: Environment = settings.ENVIRONMENT
    found: list[Fault | Error] = list(env.faults)
    if settings.DEMO and datafolder.kind(settings.DATA) == "real":
        found.append(_demo_on_real_data())
    if apart and not env.redis_url and not any(fault.id == REDIS_UNUSABLE for fault in env.faults):
        found.append(REDIS_MISSING)
    if not found:
        return
    message = found[0].message if isinstance(found[0], Fault) else found[0].msg
    more = f" ({len(found) - 1} more: manage.py check --deploy)" if len(found) > 1 else ""
    raise EnvironmentRefused(f"Cannot start: {found[0].id}: {message} {found[0].hint}{more}")


def _demo_on_real_data() -> Error:
    return Error(
        "ONEONONE_DEMO is set, but the data folder holds real data.",
        hint="Leave ONEONONE_DEMO out, or name another folder in ONEONONE_DATA.",
        id="oneonone.E009",
    )
