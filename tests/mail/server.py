"""A mail server on loopback that answers as it is told to."""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from email import message_from_bytes, policy
from email.message import EmailMessage
from typing import Any

from aiosmtpd.controller import Controller

CUT = "cut"
OK = "250 OK"


class Script:
    """What the server answers at each step: a reply, or ``CUT`` to drop the connection. Accepted by default.

    ``got`` are the messages whose text arrived, whatever was answered; ``greeted`` counts connections.
    """

    def __init__(self) -> None:
        self.mail: list[str] = []
        self.rcpt: list[str] = []
        self.data: list[str] = []
        self.got: list[EmailMessage] = []
        self.raw: list[bytes] = []
        self.recipients: list[list[str]] = []
        self.greeted = 0

    async def handle_EHLO(
        self, server: Any, session: Any, envelope: Any, hostname: str, responses: list[str]
    ) -> list[str]:
        self.greeted += 1
        session.host_name = hostname
        return responses

    async def handle_MAIL(
        self, server: Any, session: Any, envelope: Any, address: str, options: list[str]
    ) -> str:
        reply = self._next(self.mail, server)
        if reply == OK:
            envelope.mail_from = address
        return reply

    async def handle_RCPT(
        self, server: Any, session: Any, envelope: Any, address: str, options: list[str]
    ) -> str:
        reply = self._next(self.rcpt, server)
        if reply == OK:
            envelope.rcpt_tos.append(address)
        return reply

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:
        self.raw.append(envelope.content)
        self.got.append(message_from_bytes(envelope.content, policy=policy.default))
        self.recipients.append(list(envelope.rcpt_tos))
        return self._next(self.data, server)

    def _next(self, script: list[str], server: Any) -> str:
        reply = script.pop(0) if script else OK
        if reply == CUT:
            server.transport.abort()
            return OK
        return reply


class _OnAFreePort(Controller):
    """The system gives the port; the library's first call to itself has to be told which."""

    def _trigger_server(self) -> None:
        self.port = self.server.sockets[0].getsockname()[1]  # type: ignore[union-attr]
        super()._trigger_server()  # type: ignore[no-untyped-call]


@contextmanager
def hanging_up_at_data() -> Iterator[int]:
    """A server that accepts sender and recipient, and drops the connection instead of asking for the text."""
    with socket.create_server(("127.0.0.1", 0)) as listener:

        def talk() -> None:
            connection, _address = listener.accept()
            with connection, connection.makefile("rwb", buffering=0) as stream:
                stream.write(b"220 ready\r\n")
                while not (line := stream.readline()).upper().startswith(b"DATA"):
                    stream.write(b"250 OK\r\n" if line else b"")

        talking = threading.Thread(target=talk)
        talking.start()
        yield listener.getsockname()[1]
        talking.join(5)


@contextmanager
def running(script: Script) -> Iterator[int]:
    """Serve on a free port of loopback while the block runs."""
    controller = _OnAFreePort(script, hostname="127.0.0.1", port=0)
    controller.start()
    try:
        yield controller.port
    finally:
        controller.stop()
