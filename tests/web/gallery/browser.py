"""A real browser on the gallery, served with the content security policy of the product."""

import os
import shutil
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

from django.conf import settings

KINDS = {".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml"}

# As one set, for a browser inside a container that may reach nothing but this machine.
FLAGS = [
    "--no-sandbox",
    "--disable-dev-shm-usage",
    "--disable-gpu",
    "--disable-extensions",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--no-default-browser-check",
    "--disable-features=Translate,OptimizationHints,MediaRouter,AutofillServerCommunication",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1, EXCLUDE localhost",
    "--font-render-hinting=none",
    "--hide-scrollbars",
    "--metrics-recording-only",
    "--mute-audio",
]


def chromium() -> str | None:
    """The browser of this machine: what ``CHROMIUM`` names, or one on the path."""
    return os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("google-chrome")


def policy() -> str:
    """The product's own policy, as the header spells it."""
    directives = settings.CONTENT_SECURITY_POLICY["DIRECTIVES"]
    return "; ".join(f"{name} {' '.join(sources)}" for name, sources in directives.items())


class Site(ThreadingHTTPServer):
    """Pages by path, the static files beside them, and the forms that were sent."""

    daemon_threads = True

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), Handler)
        self.pages: dict[str, str] = {}
        self.sent: list[str] = []
        self.answer_after = threading.Event()
        self.answer_after.set()

    def url(self, path: str) -> str:
        return f"http://127.0.0.1:{self.server_port}{path}"


class Handler(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    server: Site

    def do_GET(self) -> None:
        path = self.path.partition("?")[0]
        # Joined and hashed, as pages link to them.
        file = Path(settings.STATIC_ROOT) / path.removeprefix("/static/")
        if path.startswith("/static/") and file.is_file():
            self._send(200, KINDS[file.suffix], file.read_bytes(), "max-age=600")
        elif path in self.server.pages:
            self._send(200, "text/html", self.server.pages[path].encode())
        else:
            self._send(404, "text/plain", b"")

    def do_POST(self) -> None:
        self.rfile.read(int(self.headers["Content-Length"]))
        self.server.sent.append(self.path)
        self.server.answer_after.wait(10)
        self.send_response(303)
        self.send_header("Location", self.headers["Referer"])
        self.send_header("Content-Length", "0")
        self.end_headers()

    def _send(self, status: int, kind: str, body: bytes, keep: str = "no-store") -> None:
        self.send_response(status)
        self.send_header("Content-Type", f"{kind}; charset=utf-8")
        self.send_header("Content-Length", str(len(body)))
        self.send_header("Cache-Control", keep)
        self.send_header("Content-Security-Policy", policy())
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, format: str, *args: Any) -> None:
        """A test run is not a place for access lines."""


@contextmanager
def site() -> Iterator[Site]:
    server = Site()
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True)
    thread.start()
    try:
        yield server
    finally:
        server.answer_after.set()
        server.shutdown()
        server.server_close()
        thread.join()
