"""What pages about signing in are searched for: markup that the content security policy forbids."""

from __future__ import annotations

import re

INLINE = {
    "a script with a body": re.compile(
        r"<script(?![^>]*\bsrc=)(?![^>]*application/json)[^>]*>", re.IGNORECASE
    ),
    "a style": re.compile(r"<style|\bstyle\s*=", re.IGNORECASE),
    "a handler": re.compile(r"<[^>]+\son[a-z]+\s*=", re.IGNORECASE),
    "a data: address": re.compile(r"""(?:src|href)\s*=\s*["']\s*data:""", re.IGNORECASE),
    "a script: address": re.compile(r"""(?:src|href|action)\s*=\s*["']\s*javascript:""", re.IGNORECASE),
    "an address elsewhere": re.compile(
        r"""<(?:script|link|img)[^>]+(?:src|href)=["'](?:https?:)?//""", re.IGNORECASE
    ),
}


def forbidden(page: str) -> list[str]:
    """The names of what is on the page and may not be; empty for a clean one."""
    return [name for name, pattern in INLINE.items() if pattern.search(page)]
