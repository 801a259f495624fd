"""Style and script for browsers: joined from one file an element, named by their content, compressed.

``collectstatic`` does it, and so does every server as it starts, where the sources have changed since the
last time. What is served is named by a hash of its content, so browsers keep it for a year.
"""

from __future__ import annotations

import fcntl
import hashlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.staticfiles import finders
from django.contrib.staticfiles.storage import staticfiles_storage
from django.core.files.base import ContentFile
from django.core.management import call_command
from whitenoise.storage import CompressedManifestStaticFilesStorage

FOLDER = "oneonone"
ELEMENTS = (
    "chrome capture button field error-summary page-header notice caution private-paper markup table"
    " definitions rail"
    " rail-minutes topic rail-drag empty-state tabs disclosure confirm stale-edit mail-message pagination"
    " person standing steps"
)
BEHAVIOURS = (
    "submit-once focus-on-load grow-textarea announce open-here move-in-list drag-in-list"
    " open-to-field send-by-keys zone-of-browser capture single-keys"
)
BUNDLES: dict[str, tuple[str, ...]] = {
    # Tokens first: what is declared later wins.
    "css/site.css": (
        "css/tokens.css",
        "css/base.css",
        *(f"css/elements/{name}.css" for name in ELEMENTS.split()),
    ),
    "js/site.js": tuple(f"js/{name}.js" for name in BEHAVIOURS.split()),
}
UNUSED = ["rest_framework"]
"""Folders of libraries that no page asks for."""


class NotWritable(Exception):
    """The folder for static files cannot be written; the text says which and what to do, in one line."""


class JoinedStorage(CompressedManifestStaticFilesStorage):
    """Static files with the bundles among them; the sources of a bundle are not served beside it."""

    keep_only_hashed_files = True

    def post_process(self, paths: dict[str, Any], *args: Any, **options: Any) -> Iterator[Any]:
        """Join the bundles before everything is hashed and compressed."""
        if not options.get("dry_run"):
            for bundle, sources in BUNDLES.items():
                self._join(paths, bundle, sources)
        yield from super().post_process(paths, *args, **options)  # type: ignore[no-untyped-call]

    def _join(self, paths: dict[str, Any], bundle: str, sources: tuple[str, ...]) -> None:
        name, parts = f"{FOLDER}/{bundle}", []
        for source in sources:
            storage, path = paths.pop(f"{FOLDER}/{source}")
            with storage.open(path) as file:
                parts.append(file.read())
            self.delete(f"{FOLDER}/{source}")
        self.delete(name)
        self.save(name, ContentFile(b"\n".join(parts)))
        paths[name] = (self, name)


def addresses(bundle: str) -> list[str]:
    """Where browsers get a bundle: one address, or its sources where static files are served as they lie."""
    joined = isinstance(staticfiles_storage, JoinedStorage)
    return [staticfiles_storage.url(f"{FOLDER}/{name}") for name in ([bundle] if joined else BUNDLES[bundle])]


def collect() -> None:
    """Bring ``STATIC_ROOT`` up to date with the sources; nothing is written when it is.

    Several processes may do it at once. Files of earlier versions stay, for pages that are still open.
    Refused where the folder cannot be written.
    """
    root = Path(settings.STATIC_ROOT)
    done, digest = root.with_suffix(".sha256"), _digest()
    try:
        root.mkdir(parents=True, exist_ok=True)
        with root.with_suffix(".lock").open("w") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            if done.is_file() and done.read_text(encoding="ascii") == digest:
                return
            call_command("collectstatic", interactive=False, verbosity=0, ignore_patterns=UNUSED)
            done.write_text(digest, encoding="ascii")
    except OSError as fault:
        raise NotWritable(
            f"Style and script cannot be written to {root}: {fault.strerror or fault}. Name a folder that the"
            " server may write in ONEONONE_DATA."
        ) from fault


def _digest() -> str:
    """What the sources are: every path and every content, and this file, which says how they are joined."""
    digest = hashlib.sha256(Path(__file__).read_bytes())
    for finder in finders.get_finders():
        for path, storage in sorted(finder.list(UNUSED), key=lambda found: str(found[0])):
            digest.update(str(path).encode() + b"\0" + Path(storage.path(path)).read_bytes())
    return digest.hexdigest()
