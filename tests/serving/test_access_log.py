"""The server command of README.md, as it is printed there, writes no token of a link anywhere."""

from __future__ import annotations

import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.serving.running import PATIENCE_SECONDS, PROJECT, clean_environment

TOKEN = "k3Y-secret_9"
PATHS = (
    f"/setup/{TOKEN}/",
    f"/invitations/{TOKEN}/",
    f"/invitations/{TOKEN}/accept/",
    f"/new-password/{TOKEN}/",
    f"/account/login/?next=/invitations/{TOKEN}/",
    f"/account/login/?next=%2Finvitations%2F{TOKEN}%2F",
)


def printed() -> list[str]:
    """The words of the command that README.md prints for the pages."""
    lines = (PROJECT / "README.md").read_text(encoding="utf-8").splitlines()
    (line,) = [line for line in lines if line.startswith(".venv/bin/uvicorn ")]
    return line.split()


@pytest.fixture
def environment(tmp_path: Path) -> dict[str, str]:
    made = clean_environment(
        {
            "ONEONONE_DATA": str(tmp_path),
            "ONEONONE_SECRET_KEY": "a key for tests only, long enough to be taken as a key",
            "ONEONONE_KEK": "dGhpcnR5LXR3byBieXRlcyBmb3IgdGhlIHRlc3RzISE=",
            "REDIS_URL": "redis://127.0.0.1:1/0",
        }
    )
    subprocess.run(
        [sys.executable, "manage.py", "migrate", "--verbosity", "0"],
        cwd=PROJECT,
        env=made,
        check=True,
        timeout=PATIENCE_SECONDS,
    )
    return made


def visited(words: list[str], environment: dict[str, str], log: Path) -> Iterator[int]:
    """Start the command, ask for every path, and stop it; the status of each answer."""
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
    program = str(Path(sys.executable).parent / Path(words[0]).name)
    with log.open("wb") as written:
        process = subprocess.Popen(
            [program, *words[1:], "--port", str(port)],
            cwd=PROJECT,
            env=environment,
            stdin=subprocess.DEVNULL,
            stdout=written,
            stderr=subprocess.STDOUT,
        )
        try:
            until_open(port, process)
            for path in PATHS:
                yield status_of(f"http://localhost:{port}{path}")
        finally:
            process.send_signal(signal.SIGTERM)
            process.wait(PATIENCE_SECONDS)


def until_open(port: int, process: subprocess.Popen[bytes]) -> None:
    deadline = time.monotonic() + PATIENCE_SECONDS
    while process.poll() is None and time.monotonic() < deadline:
        try:
            urllib.request.urlopen(
                f"http://localhost:{port}/account/login/", timeout=PATIENCE_SECONDS
            ).close()
        except OSError:
            time.sleep(0.2)
        else:
            return
    raise AssertionError("the server did not come up")


def status_of(address: str) -> int:
    try:
        with urllib.request.urlopen(address, timeout=PATIENCE_SECONDS) as answer:
            status: int = answer.status
            return status
    except urllib.error.HTTPError as refusal:
        return refusal.code


@pytest.mark.parametrize("access_log", [False, True], ids=["as printed", "with an access log"])
def test_no_token_of_a_link_is_written(access_log: bool, environment: dict[str, str], tmp_path: Path) -> None:
    words = [word for word in printed() if not (access_log and word == "--no-access-log")]
    log = tmp_path / "log"
    assert list(visited(words, environment, log)) == [404, 404, 405, 404, 200, 200]
    said = log.read_text()
    assert "Not Found: /setup/***/" in said, "the refusals are written, without the token"
    assert TOKEN not in said
    assert ("GET /account/login/?next=%2Finvitations%2F***%2F" in said) is access_log
