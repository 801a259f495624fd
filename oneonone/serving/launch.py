"""What must happen before the settings are read: data folder, lock, port, and the variables the settings
read.

`manage.py` calls `prepare` for the command `serve`; the command itself then finds the result in `launched`.
Refusals end the process with one line.
"""

import argparse
import os
import socket
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from oneonone.serving import datafolder, listener

PROJECT = Path(__file__).resolve().parent.parent.parent
DEFAULT_HOST = "127.0.0.1"
DEFAULT_PORT = 8000


@dataclass(frozen=True)
class Launch:
    """What was made ready: folder and kind, the open port, and the lock if the jobs run in this process."""

    data: Path
    demo: bool
    listener: socket.socket
    lock: IO[str] | None
    made_kek: bool


launched: Launch | None = None


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--demo",
        action="store_true",
        help="start with an invented company to try things out on, in a folder of its own",
    )
    parser.add_argument(
        "--data",
        type=Path,
        help="data folder (default: ONEONONE_DATA, else .oneonone or .oneonone-demo in the project)",
    )
    parser.add_argument("--host", default=DEFAULT_HOST, help="address to listen on (default: %(default)s)")
    parser.add_argument(
        "--port", type=_port, default=DEFAULT_PORT, help="port to listen on (default: %(default)s)"
    )


def prepare(arguments: list[str]) -> None:
    """Make everything ready for `serve` with these `arguments`, or end the process with one line."""
    if {"-h", "--help"} & set(arguments):
        return
    parser = argparse.ArgumentParser(prog="manage.py serve", add_help=False, allow_abbrev=False)
    add_arguments(parser)
    options, _ = parser.parse_known_args(arguments)
    try:
        _launch(options)
    except (datafolder.FolderRefused, listener.PortRefused, AddressUnknown) as refusal:
        sys.exit(str(refusal))


class AddressUnknown(Exception):
    """Nobody could tell under which address people reach this server."""


def _launch(options: argparse.Namespace) -> None:
    global launched
    data = _data_folder(options)
    if listener.is_every_address(options.host) and not os.environ.get("ONEONONE_BASE_URL"):
        raise AddressUnknown(
            f"--host {options.host} listens on every address of this machine: set ONEONONE_BASE_URL to"
            " the one that people type, such as https://oneonone.example.org, so that links in mails are"
            " right."
        )
    made_kek = datafolder.prepare(data, demo=options.demo, kek_elsewhere=_kek_elsewhere())
    lock = None if os.environ.get("REDIS_URL") else datafolder.lock(data)
    opened = listener.listen(options.host, options.port)
    launched = Launch(data, options.demo, opened, lock, made_kek)
    os.environ["ONEONONE_DATA"] = str(data)
    os.environ["ONEONONE_DEMO"] = "1" if options.demo else "0"
    if not os.environ.get("ONEONONE_BASE_URL"):
        os.environ["ONEONONE_BASE_URL"] = _address(options.host, listener.port_of(opened))


def _kek_elsewhere() -> bool:
    return bool(os.environ.get("ONEONONE_KEK") or os.environ.get("ONEONONE_KEK_FILE"))


def _data_folder(options: argparse.Namespace) -> Path:
    given = options.data or os.environ.get("ONEONONE_DATA")
    folder = Path(given) if given else PROJECT / (".oneonone-demo" if options.demo else ".oneonone")
    return folder.expanduser().absolute()


def _address(host: str, port: int) -> str:
    """Where people find this server.

    Loopback goes by its name: browsers keep passkeys for names, not numbers.
    """
    name = "localhost" if listener.is_loopback(host) else f"[{host}]" if ":" in host else host
    return f"http://{name}:{port}"


def _port(value: str) -> int:
    if not (value.isascii() and value.isdigit() and int(value) <= 65535):
        raise argparse.ArgumentTypeError(f"{value!r} is no port: give a number from 0 to 65535")
    return int(value)
