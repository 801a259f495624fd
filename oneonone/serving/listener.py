"""The listening socket. It is opened first, so that a used port is reported at once in one line."""

import errno
import socket
from ipaddress import ip_address

BACKLOG = 128


class PortRefused(Exception):
    """The address cannot be listened on; the text says why and what to do, in one line."""


def listen(host: str, port: int) -> socket.socket:
    """A listening TCP socket on `host`; port 0 takes any free one. Early visitors wait in its queue."""
    try:
        family, kind, protocol, _, address = socket.getaddrinfo(
            host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )[0]
    except socket.gaierror as fault:
        raise PortRefused(f"--host {host} is no address of this machine.") from fault
    listener = socket.socket(family, kind, protocol)
    # Without this a restart would have to wait until the last visitors' connections are forgotten.
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind(address)
        listener.listen(BACKLOG)
    except (OSError, OverflowError) as fault:
        listener.close()
        raise PortRefused(_why(host, port, fault)) from fault
    listener.setblocking(False)
    return listener


def _why(host: str, port: int, fault: Exception) -> str:
    number = fault.errno if isinstance(fault, OSError) else None
    if number == errno.EADDRINUSE:
        return f"Port {port} on {host} is taken: stop what runs there, or choose another one with --port."
    if number == errno.EACCES:
        return f"Port {port} needs more rights than this account has: choose one above 1023 with --port."
    if number == errno.EADDRNOTAVAIL:
        return f"--host {host} is no address of this machine."
    return f"Port {port} on {host} cannot be opened: {getattr(fault, 'strerror', None) or fault}."


def port_of(listener: socket.socket) -> int:
    port: int = listener.getsockname()[1]
    return port


def is_loopback(host: str) -> bool:
    return host == "localhost" or (_is_address(host) and ip_address(host).is_loopback)


def is_every_address(host: str) -> bool:
    return host == "" or (_is_address(host) and ip_address(host).is_unspecified)


def _is_address(host: str) -> bool:
    try:
        ip_address(host)
    except ValueError:
        return False
    return True
