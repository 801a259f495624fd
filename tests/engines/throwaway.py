"""A PostgreSQL and a Redis of one's own on free loopback ports, gone when done.

    with throwaway.both() as urls: ...                     in Python
    eval "$(python -m tests.engines.throwaway start DIR)"   in a shell; then: ... stop DIR

The suite connects as a role that is no superuser and owns no more than it makes, because a superuser
passes by row-level security. Durability is switched off: nothing here outlives the run.
"""

import os
import pwd
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import psycopg
import redis

START_SECONDS = 60
ROLE = "oneonone"
SERVER_LOG = "postgresql.log"
QUICK = ("fsync=off", "synchronous_commit=off", "full_page_writes=off", "max_connections=60")


class ProgramMissing(Exception):
    """This machine has no such program."""


@dataclass(frozen=True)
class Urls:
    """Where the two are, as DATABASE_URL and REDIS_URL want it."""

    database: str
    redis: str


def postgresql_programs() -> Path | None:
    """The folder with initdb and pg_ctl of the newest PostgreSQL here; Debian keeps them off the path."""
    versions = sorted(
        Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda found: float(found.parent.parent.name)
    )
    if versions:
        return versions[-1].parent
    found = shutil.which("initdb")
    return Path(found).resolve().parent if found else None


def redis_program() -> str | None:
    return shutil.which("redis-server")


def missing() -> list[str]:
    """Names of what this machine lacks for a run on PostgreSQL and Redis."""
    wanted = {"PostgreSQL": postgresql_programs(), "Redis": redis_program()}
    return [name for name, found in wanted.items() if found is None]


@contextmanager
def both() -> Iterator[Urls]:
    """PostgreSQL and Redis while the block runs."""
    with folder() as place:
        yield start(place)


@contextmanager
def folder() -> Iterator[Path]:
    """A folder for both, its path short because sockets lie in it; what runs in it is stopped at the end."""
    place = Path(tempfile.mkdtemp(prefix="oneonone-engines-"))
    try:
        yield place
    finally:
        stop(place)


def start(place: Path) -> Urls:
    """Start both with their files in `place`, which `stop` removes."""
    if lacking := missing():
        raise ProgramMissing(f"not on this machine: {', '.join(lacking)}")
    place.mkdir(mode=0o700, parents=True, exist_ok=True)
    if os.geteuid() == 0:
        shutil.chown(place, _account())
    return Urls(_start_postgresql(place), start_redis(place))


def stop(place: Path) -> None:
    stop_postgresql(place)
    stop_redis(place)
    shutil.rmtree(place, ignore_errors=True)


def restart_postgresql(place: Path) -> None:
    """Stop PostgreSQL as a crash would, and start it again on the same port."""
    programs = postgresql_programs()
    assert programs
    _run(
        programs / "pg_ctl",
        "-D",
        place / "postgresql",
        "-m",
        "immediate",
        "-w",
        "-l",
        place / SERVER_LOG,
        "restart",
    )


def _start_postgresql(place: Path) -> str:
    programs = postgresql_programs()
    assert programs
    data, port = place / "postgresql", _free_port()
    _run(
        programs / "initdb",
        "-D",
        data,
        "-U",
        "postgres",
        "-A",
        "trust",
        "-E",
        "UTF8",
        "--locale=C.UTF-8",
        "-N",
    )
    options = " ".join(["-h 127.0.0.1", f"-p {port}", f"-k {place}", *(f"-c {setting}" for setting in QUICK)])
    log = place / SERVER_LOG
    _run(programs / "pg_ctl", "-D", data, "-l", log, "-w", "-t", START_SECONDS, "-o", options, "start")
    with psycopg.connect(f"postgresql://postgres@127.0.0.1:{port}/postgres", autocommit=True) as connection:
        connection.execute(f"CREATE ROLE {ROLE} LOGIN CREATEDB NOSUPERUSER NOBYPASSRLS")
        connection.execute(f"CREATE DATABASE {ROLE} OWNER {ROLE}")
    return f"postgresql://{ROLE}@127.0.0.1:{port}/{ROLE}"


def start_redis(place: Path, port: int | None = None) -> str:
    """Start Redis, on a port given by a test that starts it again; nothing is kept over a stop."""
    port = port or _free_port()
    program = redis_program()
    assert program
    _run(
        program, "--bind", "127.0.0.1", "--port", port, "--dir", place, "--save", "", "--appendonly", "no",
        "--daemonize", "yes", "--pidfile", place / "redis.pid", "--logfile", place / "redis.log",
    )  # fmt: skip
    url = f"redis://127.0.0.1:{port}/0"
    deadline = time.monotonic() + START_SECONDS
    while not _answers(url):
        if time.monotonic() > deadline:
            raise TimeoutError((place / "redis.log").read_text(encoding="utf-8"))
        time.sleep(0.05)
    return url


def stop_postgresql(place: Path) -> None:
    """Stop PostgreSQL as a power cut would."""
    programs = postgresql_programs()
    if programs and (place / "postgresql").is_dir():
        _run(programs / "pg_ctl", "-D", place / "postgresql", "-m", "immediate", "-w", "stop", check=False)


def stop_redis(place: Path) -> None:
    """Kill Redis as a power cut would."""
    try:
        pid = int((place / "redis.pid").read_text(encoding="ascii"))
        os.kill(pid, signal.SIGKILL)
    except (FileNotFoundError, ProcessLookupError, ValueError):
        return
    (place / "redis.pid").unlink(missing_ok=True)


def _answers(url: str) -> bool:
    try:
        with redis.Redis.from_url(url, socket_connect_timeout=1, socket_timeout=1) as client:
            return bool(client.ping())
    except redis.ConnectionError:
        return False


def _run(*words: object, check: bool = True) -> None:
    """Run a program, as an ordinary account where we are root: PostgreSQL refuses to run as root."""
    as_other = ["runuser", "-u", _account(), "--"] if os.geteuid() == 0 else []
    result = subprocess.run(
        [*as_other, *(str(word) for word in words)],
        cwd="/",
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
        timeout=START_SECONDS * 2,
        check=False,
    )
    if check and result.returncode:
        raise RuntimeError(f"{words[0]} ended with {result.returncode}: {result.stderr[-2000:]}")


def _account() -> str:
    names = {entry.pw_name for entry in pwd.getpwall()}
    return "postgres" if "postgres" in names else "nobody"


def _free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as server:
        port: int = server.getsockname()[1]
    return port


def main(arguments: list[str]) -> int:
    match arguments:
        case ["start", folder]:
            urls = start(Path(folder).absolute())
            sys.stdout.write(f"export DATABASE_URL={urls.database}\nexport REDIS_URL={urls.redis}\n")
            return 0
        case ["stop", folder]:
            stop(Path(folder).absolute())
            return 0
    sys.stderr.write("usage: python -m tests.engines.throwaway start|stop FOLDER\n")
    return 2


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
