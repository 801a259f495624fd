"""Bytes that must not appear in a log, an error report, a task argument, a cache or a session."""

from __future__ import annotations

import hmac
from typing import NoReturn, SupportsIndex


class Secret:
    """Holds bytes and returns them only from ``reveal``."""

    __slots__ = ("__bytes",)

    def __init__(self, value: bytes) -> None:
        self.__bytes = bytes(value)

    def reveal(self) -> bytes:
        """The bytes themselves."""
        return self.__bytes

    def __len__(self) -> int:
        return len(self.__bytes)

    def __eq__(self, other: object) -> bool:
        """Compared in constant time."""
        if not isinstance(other, Secret):
            return NotImplemented
        return hmac.compare_digest(self.__bytes, other.__bytes)

    __hash__ = None  # type: ignore[assignment]  # a hash of a secret is a hint at it

    def __repr__(self) -> str:
        return "Secret(***)"

    def __format__(self, spec: str) -> str:
        return repr(self)

    def __reduce_ex__(self, protocol: SupportsIndex) -> NoReturn:
        """Refuse pickling and copying."""
        raise TypeError("A secret is neither pickled nor copied.")
