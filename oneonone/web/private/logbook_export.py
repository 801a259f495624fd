"""One's own logbook as a file: Markdown to read, CSV for a spreadsheet, JSON for a program."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence

from django.utils.translation import gettext as _

from oneonone.models import LogbookEntry
from oneonone.selectors.private.logbook import Entry
from oneonone.selectors.private.logbook_entry import PROMPTS
from oneonone.web import spreadsheet
from oneonone.web.private import logbook_wording

_COLUMNS = tuple(dict.fromkeys(name for prompts in PROMPTS.values() for name in prompts))


def as_markdown(entries: Sequence[Entry]) -> str:
    """Newest first, a heading for each entry and a paragraph for each prompt that was answered."""
    parts = [f"# {_('Logbook')}\n"]
    for entry in entries:
        if entry.content is None:
            continue
        kind = LogbookEntry.Kind(entry.content.kind).label
        parts.append(f"## {entry.event_on.isoformat()} {_escaped(entry.content.line)}\n\n{kind}\n")
        parts += [
            f"**{said.label}:** {_escaped(said.text)}\n" for said in logbook_wording.details(entry.content)
        ]
    return "\n".join(parts)


def as_csv(entries: Sequence[Entry]) -> str:
    """One entry a line; the columns are the same whatever its kind."""
    head = ["event_on", "entered_on", "kind", "line", *_COLUMNS]
    rows = (
        [
            entry.event_on.isoformat(),
            entry.created_on.isoformat(),
            entry.content.kind,
            entry.content.line,
            *(entry.content.details.get(name, "") for name in _COLUMNS),
        ]
        for entry in entries
        if entry.content is not None
    )
    return spreadsheet.as_csv(head, rows)


def as_json(entries: Sequence[Entry]) -> str:
    """A list of objects with the names of the CSV's columns; prompts without an answer are left out."""
    found = [
        {
            "event_on": entry.event_on.isoformat(),
            "entered_on": entry.created_on.isoformat(),
            "kind": entry.content.kind,
            "line": entry.content.line,
            "details": dict(entry.content.details),
        }
        for entry in entries
        if entry.content is not None
    ]
    return json.dumps(found, ensure_ascii=False, indent=2) + "\n"


Writer = Callable[[Sequence[Entry]], str]
FORMATS: dict[str, tuple[str, Writer]] = {
    "md": ("text/markdown", as_markdown),
    "csv": ("text/csv", as_csv),
    "json": ("application/json", as_json),
}


def _escaped(text: str) -> str:
    """Text that stays one line's words in Markdown: a line that begins with # or - is no heading or list."""
    return "\n".join(f"\\{line}" if line[:1] in "#->*+=" else line for line in text.split("\n"))
