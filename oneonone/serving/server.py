"""The web server of `serve`: uvicorn on an open socket, ended cleanly by a signal."""

import os
import signal
import socket
from collections.abc import Callable
from types import FrameType

import uvicorn

GRACE_SECONDS = 5


def run(listener: socket.socket, after: Callable[[], None]) -> None:
    """Serve until SIGINT or SIGTERM, then run `after`.

    A second signal during `after` ends the process at once.
    """
    config = uvicorn.Config(
        "oneonone.asgi:application",
        lifespan="off",
        log_config=None,
        access_log=False,
        server_header=False,
        # Addresses of visitors behind proxies are worked out by the number of proxies, not by trusting a
        # header.
        proxy_headers=False,
        timeout_graceful_shutdown=GRACE_SECONDS,
    )
    server = uvicorn.Server(config)
    leaving = False

    def second_signal(number: int, frame: FrameType | None) -> None:
        if leaving:
            os._exit(128 + number)

    # uvicorn raises the signal again after its own shutdown. Without handlers of ours that would end the
    # process before `after` has run.
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, second_signal)
    try:
        server.run(sockets=[listener])
    finally:
        leaving = True
        after()
