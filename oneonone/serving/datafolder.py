"""The data folder: what kind of data it holds, its keys, and the lock that keeps a second server out.

Nothing here needs Django, so that `manage.py serve` can prepare the folder before settings are read from it.
"""

import base64
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


def prepare(folder: Path, *, demo: bool, kek_elsewhere: bool = False) -> bool:
    """Make the folder with its keys where they are missing, readable by its owner only.

    Returns whether it made a key-encryption key; where that is kept elsewhere it makes none. Refused: a demo
    in a folder with real data, real data in a demo's folder, a folder that cannot be written, a database
    whose key-encryption key is missing.
    """
    wanted = "demo" if demo else "real"
    _refuse_other_kind(folder, wanted)
    kek = folder / "keys" / "kek"
    if not kek_elsewhere and not kek.exists() and _has_rows(folder / "db.sqlite3"):
        raise FolderRefused(
            f"{kek} is missing, and the database beside it has private text under it: put the key back from"
            " its backup. A new one would open nothing."
        )
    try:
        for place in (folder, folder / "keys"):
            place.mkdir(mode=0o700, parents=True, exist_ok=True)
        _write_once(folder / "kind", wanted, mode=0o600)
        _refuse_other_kind(folder, wanted)  # another start may have been first
        _write_once(folder / "keys" / "secret_key", secrets.token_urlsafe(48), mode=0o400)
        return not kek_elsewhere and _write_once(
            kek, base64.urlsafe_b64encode(secrets.token_bytes(32)).decode(), mode=0o400
        )
    except OSError as fault:
        raise FolderRefused(f"{folder} cannot be used as data folder: {fault.strerror or fault}.") from fault


def _has_rows(database: Path) -> bool:
    return database.exists() and database.stat().st_size > 0


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
    """Lock the folder until the returned file is closed or the process ends."""
    file = (folder / "lock").open("a+", encoding="ascii")
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError as fault:
        file.close()
        raise FolderRefused(
            f"Another server already runs on {folder}: stop it first, or name another folder with --data."
        ) from fault
    return file


def _write_once(file: Path, text: str, *, mode: int) -> bool:
    """Create `file` whole or leave what is there: a crash or a second start never yields half a key.

    Returns whether this call has made it.
    """
    if file.exists():
        return False
    handle, name = tempfile.mkstemp(dir=file.parent, prefix=f".{file.name}-")
    fresh = Path(name)
    try:
        with os.fdopen(handle, "w", encoding="ascii") as stream:
            os.fchmod(handle, mode)
            stream.write(text + "\n")
            stream.flush()
            os.fsync(handle)
        # A hard link, unlike a rename, never replaces a file that another start created in the meantime.
        try:
            os.link(fresh, file)
        except FileExistsError:
            return False
    finally:
        fresh.unlink()
    return True
