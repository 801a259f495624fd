"""Comma-separated values (RFC 4180) that a spreadsheet opens as text and never as a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

from django.http import HttpResponse

# What a spreadsheet takes for the beginning of a formula, wide forms of East Asian keyboards included
# (OWASP, CSV injection).
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
# A byte order mark tells spreadsheets that the file is UTF-8.
MARK = "\ufeff"


def plain(value: object) -> object:
    """Text that begins like a formula gets an apostrophe before it; other values stay."""
    if isinstance(value, str) and value.startswith(FORMULA):
        return f"'{value}"
    return value


def as_csv(head: Iterable[str], rows: Iterable[Iterable[object]]) -> str:
    """One record a line, with the names of the columns first."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([plain(name) for name in head])
    writer.writerows([plain(value) for value in row] for row in rows)
    return MARK + out.getvalue()


def attachment(text: str, *, content_type: str, name: str) -> HttpResponse:
    """A file to keep. ``name`` says nothing of what is in it."""
    answer = HttpResponse(text, content_type=f"{content_type}; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer
