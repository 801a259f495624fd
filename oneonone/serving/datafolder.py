"""The data folder: what kind of data it holds, its keys, and the lock that keeps a second server out.

Nothing here needs Django, so that `manage.py serve` can prepare the folder before settings are read from it.
"""

import base64
import contextlib
import fcntl
import os
import secrets
import tempfile
from pathlib import Path
from typing import IO

KINDS = ("demo", "real")


class FolderRefused(Exception):
    """The folder cannot be used; the text says why and what to do, in one line."""


def kind(folder: Path) -> str:
    """`demo` or `real`; an empty text for a folder that no server has used yet."""
    try:
        found = (folder / "kind").read_text(encoding="ascii").strip()
    except (FileNotFoundError, NotADirectoryError):
        return ""
    return found if found in KINDS else "real"


def prepare(folder: Path, *, demo: bool) -> None:
    """Make the folder with its keys where they are missing, readable by its owner only.

    Refused: a demo in a folder with real data, real data in a demo's folder, a folder that cannot be written.
    """
    wanted = "demo" if demo else "real"
    _refuse_other_kind(folder, wanted)
    try:
        for place in (folder, folder / "keys"):
            place.mkdir(mode=0o700, parents=True, exist_ok=True)
        _write_once(folder / "kind", wanted, mode=0o600)
        _refuse_other_kind(folder, wanted)  # another start may have been first
        _write_once(folder / "keys" / "secret_key", secrets.token_urlsafe(48), mode=0o400)
        _write_once(
            folder / "keys" / "kek", base64.urlsafe_b64encode(secrets.token_bytes(32)).decode(), mode=0o400
        )
    except OSError as fault:
        raise FolderRefused(f"{folder} cannot be used as data folder: {fault.strerror or fault}.") from fault


def _refuse_other_kind(folder: Path, wanted: str) -> None:
    found = kind(folder)
    if not found and (folder / "db.sqlite3").exists():
        found = "real"
    if found in ("", wanted):
        return
    raise FolderRefused(
        f"{folder} holds the demo: add --demo, or name another folder with --data."
        if found == "demo"
        else f"{folder} holds real data: the demo does not start there. Leave --data out or name a new one."
    )


def lock(folder: Path) -> IO[str]:
    """Hold the folder until the returned file is closed or the process ends, however it ends."""
    file = (folder / "lock").open("a+", encoding="ascii")
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError as fault:
        file.close()
        raise FolderRefused(
            f"Another server already runs on {folder}: stop it first, or name another folder with --data."
        ) from fault
    return file


def _write_once(file: Path, text: str, *, mode: int) -> None:
    """Create `file` whole or leave what is there: a crash or a second start never yields half a key."""
    if file.exists():
        return
    handle, name = tempfile.mkstemp(dir=file.parent, prefix=f".{file.name}-")
    fresh = Path(name)
    try:
        with os.fdopen(handle, "w", encoding="ascii") as stream:
            os.fchmod(handle, mode)
            stream.write(text + "\n")
            stream.flush()
            os.fsync(handle)
        # A link, unlike a rename, never replaces what another start has put there meanwhile.
        with contextlib.suppress(FileExistsError):
            os.link(fresh, file)
    finally:
        fresh.unlink()
