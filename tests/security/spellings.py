"""In what forms a text may hide: spelt otherwise, encoded, or inside a compressed stream."""

from __future__ import annotations

import base64
import re
import zlib
from collections.abc import Iterator

STREAMS = re.compile(rb"\x1f\x8b\x08|\x78[\x01\x5e\x9c\xda]")
MOST_INFLATED = 1 << 20
FRAGMENT = 9


def spellings(text: str) -> dict[str, bytes]:
    """The bytes by which ``text`` (ASCII letters and digits) shows, whatever stands around it."""
    raw = text.encode("ascii")
    found = {
        "as it is": raw,
        "lower case": raw.lower(),
        "upper case": raw.upper(),
        "its beginning": raw[:FRAGMENT],
        "its end": raw[-FRAGMENT:],
        "hex": raw.hex().encode(),
        "hex, upper case": raw.hex().upper().encode(),
        "percent-encoded": "".join(f"%{byte:02X}" for byte in raw).encode(),
        "u-escaped": "".join(f"\\u{byte:04x}" for byte in raw).encode(),
        "x-escaped": "".join(f"\\x{byte:02x}" for byte in raw).encode(),
        "HTML, decimal": "".join(f"&#{byte};" for byte in raw).encode(),
        "HTML, hex": "".join(f"&#x{byte:x};" for byte in raw).encode(),
        "UTF-16, little end first": text.encode("utf-16-le"),
        "UTF-16, big end first": text.encode("utf-16-be"),
        "UTF-32": text.encode("utf-32-le"),
    }
    for offset in range(3):
        found[f"base64 at {offset}"] = _inside(base64.b64encode, raw, offset)
        found[f"base64url at {offset}"] = _inside(base64.urlsafe_b64encode, raw, offset)
    return found


def _inside(encode: object, raw: bytes, offset: int) -> bytes:
    """The characters that depend on ``raw`` alone when ``offset`` bytes stand before it."""
    assert callable(encode)
    encoded: bytes = encode(b"\0" * offset + raw)
    first = -(-offset * 8 // 6)
    return encoded[first : (offset + len(raw)) * 8 // 6]


def inflated(data: bytes) -> Iterator[bytes]:
    """What gzip and zlib streams that begin anywhere in ``data`` hold, at most a megabyte of each."""
    for match in STREAMS.finditer(data):
        stream = zlib.decompressobj(wbits=zlib.MAX_WBITS | 32)
        try:
            plain = stream.decompress(data[match.start() :], MOST_INFLATED)
        except zlib.error:
            continue
        if plain:
            yield plain


def ways(data: bytes, text: str) -> list[str]:
    """In which ways ``text`` is in ``data``; empty when it is not."""
    needles = spellings(text)
    found = [way for way, needle in needles.items() if needle in data]
    for plain in inflated(data):
        found += [f"{way}, compressed" for way, needle in needles.items() if needle in plain]
    return found
