"""Uploaded files stay in memory, up to a limit. None is written to the disk."""

from __future__ import annotations

from io import BytesIO

from django.core.files.uploadedfile import InMemoryUploadedFile
from django.core.files.uploadhandler import FileUploadHandler

# A byte more than any form takes, so that a form can tell a file that is too large by its length.
MOST_BYTES = 2 * 1024 * 1024 + 1


class InMemory(FileUploadHandler):
    """Keeps the first 2 MB of all files of a request together and discards the rest."""

    def __init__(self, request: object = None) -> None:
        super().__init__(request)  # type: ignore[arg-type]  # None until the handler is used
        self._left = MOST_BYTES
        self._kept = BytesIO()

    def new_file(self, *args: object, **kwargs: object) -> None:
        """Begin with an empty one."""
        super().new_file(*args, **kwargs)  # type: ignore[arg-type]
        self._kept = BytesIO()

    def receive_data_chunk(self, raw_data: bytes, start: int) -> None:
        """Keep what there is room for."""
        taken = raw_data[: self._left]
        self._left -= len(taken)
        self._kept.write(taken)

    def file_complete(self, file_size: int) -> InMemoryUploadedFile:
        """The file, as far as it was kept. Its name is dropped: it says as much as a title."""
        size = self._kept.tell()
        self._kept.seek(0)
        return InMemoryUploadedFile(
            self._kept,
            self.field_name,
            "file",
            self.content_type,
            size,
            self.charset,
            self.content_type_extra,
        )
