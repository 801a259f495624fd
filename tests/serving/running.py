"""A server in a process of its own, started as a person starts it, in an environment of its own."""

import os
import re
import signal
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

PROJECT = Path(__file__).resolve().parent.parent.parent
PATIENCE_SECONDS = 90  # a guard against hanging for ever, not a measure


class Running:
    """One `manage.py serve` with what it has said so far."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self.process = process
        self.began = time.monotonic()
        self._lines: list[str] = []
        self._news = threading.Condition()
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        assert self.process.stdout
        for line in self.process.stdout:
            with self._news:
                self._lines.append(line)
                self._news.notify_all()
        with self._news:
            self._news.notify_all()

    @property
    def said(self) -> str:
        return "".join(self._lines)

    def wait_for(self, pattern: str) -> re.Match[str]:
        """The first place where what was said matches; an error if it ends or stays silent instead."""
        deadline = time.monotonic() + PATIENCE_SECONDS
        with self._news:
            while True:
                if match := re.search(pattern, self.said):
                    return match
                left = deadline - time.monotonic()
                if left <= 0 or not self._reader.is_alive():
                    raise AssertionError(f"never said {pattern!r}:\n{self.said}")
                self._news.wait(min(left, 1))

    @property
    def address(self) -> str:
        return self.wait_for(r"http://[^\s/]+:\d+").group()

    def get(self, path: str) -> tuple[int, str]:
        """Status and body of a page; redirects are followed."""
        try:
            with urllib.request.urlopen(self.address + path, timeout=PATIENCE_SECONDS) as answer:
                return answer.status, answer.read().decode()
        except urllib.error.HTTPError as refusal:
            return refusal.code, refusal.read().decode()

    def resident_megabytes(self) -> float:
        told = subprocess.run(
            ["ps", "-o", "rss=", "-p", str(self.process.pid)], capture_output=True, text=True, check=True
        )
        return int(told.stdout) / 1024

    def stop(self, number: int = signal.SIGINT) -> int:
        """Send the signal and return the exit code."""
        self.process.send_signal(number)
        return self.wait()

    def wait(self) -> int:
        code = self.process.wait(PATIENCE_SECONDS)
        self._reader.join(PATIENCE_SECONDS)
        return code


def clean_environment(variables: dict[str, str]) -> dict[str, str]:
    """What a process needs to start at all, and `variables`: nothing of the run that starts it."""
    kept = {name: os.environ[name] for name in ("PATH", "HOME", "LANG") if name in os.environ}
    return kept | {"PYTHONUNBUFFERED": "1"} | variables


def command(*arguments: str, environment: dict[str, str] | None = None) -> subprocess.Popen[str]:
    """`manage.py` with these arguments, standard output and error in one stream."""
    return subprocess.Popen(
        [sys.executable, "manage.py", *arguments],
        cwd=PROJECT,
        env=clean_environment(environment or {}),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )


@contextmanager
def serve(*arguments: str, environment: dict[str, str] | None = None) -> Iterator[Running]:
    """A server that is ended when the block is left, however it is left."""
    running = Running(command("serve", *arguments, environment=environment))
    try:
        yield running
    finally:
        if running.process.poll() is None:
            running.process.kill()
        running.wait()
        assert running.process.stdout
        running.process.stdout.close()
