"""The logbook: what a person notes for themselves, under their own key, until they bring it to an agenda."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import replace
from urllib.parse import urlsplit
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone.models import LogbookEntry, ReasonCode
from oneonone.models.base import TITLE, WORDS
from oneonone.sealed import CannotOpen
from oneonone.selectors.private.logbook_entry import (
    PROMPTS,
    Bringing,
    EntryContent,
    from_payload,
)
from oneonone.services import idempotency
from oneonone.services.private import keys
from oneonone.services.refusals import NotNow, OutOfRange, Stale
from oneonone.services.text_limits import many_lines, one_line

EVIDENCE_MOST = 500
EARLIEST = dt.date(1970, 1, 1)
_CHOICES: dict[str, tuple[str, ...]] = {
    "in_the_way": tuple(ReasonCode.values),
    "solved": tuple(LogbookEntry.Solved.values),
    "wanted": tuple(LogbookEntry.Wanted.values),
    "can_wait": tuple(LogbookEntry.CanWait.values),
}


@transaction.atomic
def add(
    *,
    kind: str,
    line: str,
    event_on: dt.date,
    actor: Person,
    now: dt.datetime,
    today: dt.date,
    details: Mapping[str, str] | None = None,
    client_key: UUID | None = None,
) -> LogbookEntry:
    """Keep one entry. ``event_on`` is the day it happened, ``today`` the person's own day of entering it.

    Only the line is required. Refused: an event in the future or before 1970, a kind or choice that is not
    offered, text over its limit, evidence that is no http or https address.
    """
    earlier = idempotency.result(actor=actor, client_key=client_key, act="logbook.add", model=LogbookEntry)
    if earlier is not None:
        return earlier
    content = _checked(kind, line, event_on, details or {}, today)
    entry = LogbookEntry(owner=actor, created_on=today, changed_on=today)
    keys.seal_for(author=actor, row=entry, payload=content.payload(), now=now)
    entry.save(force_insert=True)
    idempotency.done(actor=actor, client_key=client_key, act="logbook.add", subject=entry.pk, now=now)
    return entry


@transaction.atomic
def edit(
    *,
    entry: LogbookEntry,
    kind: str,
    line: str,
    event_on: dt.date,
    details: Mapping[str, str],
    revision: int,
    actor: Person,
    now: dt.datetime,
    today: dt.date,
) -> LogbookEntry:
    """Change an entry. What was brought already stays shared as it was.

    Refused as in ``add``; when the entry has changed since ``revision`` was read, with its line as it is now;
    and when it cannot be opened, because writing over it would lose it.
    """
    content = _checked(kind, line, event_on, details, today)
    held, kept = _opened(actor, entry, revision)
    return _write(actor, held, entry, replace(content, brought=kept.brought), now, today)


@transaction.atomic
def note_brought(
    *,
    entry: LogbookEntry,
    meeting_id: UUID | None,
    topic_id: UUID | None,
    actor: Person,
    now: dt.datetime,
    today: dt.date,
) -> LogbookEntry:
    """Keep in the entry that it was brought as this topic, or (without a topic) left this time."""
    held, kept = _opened(actor, entry, None)
    others = tuple(one for one in kept.brought if meeting_id is None or one.meeting_id != meeting_id)
    brought = (*others, Bringing(meeting_id=meeting_id, topic_id=topic_id, on=today))
    return _write(actor, held, entry, replace(kept, brought=brought), now, today)


@transaction.atomic
def forget_brought(
    *, entry: LogbookEntry, meeting_id: UUID, actor: Person, now: dt.datetime, today: dt.date
) -> LogbookEntry:
    """Take back the decision about one meeting: the entry is neither brought nor left there."""
    held, kept = _opened(actor, entry, None)
    brought = tuple(one for one in kept.brought if one.meeting_id != meeting_id)
    return _write(actor, held, entry, replace(kept, brought=brought), now, today)


@transaction.atomic
def remove(*, entry: LogbookEntry, actor: Person) -> None:
    """Delete an entry of one's own for good. A topic that was made of it stays on its agenda."""
    LogbookEntry.objects.of(actor).filter(pk=entry.pk).delete()


def content_of(*, entry: LogbookEntry, actor: Person) -> EntryContent:
    """What the entry holds. Refused when it cannot be opened."""
    return _opened(actor, entry, None)[1]


def _opened(actor: Person, entry: LogbookEntry, revision: int | None) -> tuple[keys.Held, EntryContent]:
    """The entry's row locked and opened; ``revision`` is the one the caller has read, None for any."""
    row = LogbookEntry.objects.of(actor).filter(pk=entry.pk).select_for_update().first()
    if row is None:
        raise NotNow
    entry.blob, entry.revision, entry.key_number = row.blob, row.revision, row.key_number
    held = keys.Held(actor)
    try:
        content = from_payload(held.open(row), created_on=row.created_on)
    except CannotOpen:
        raise NotNow from None
    if revision is not None and row.revision != revision:
        raise Stale(theirs={"line": content.line}, version=row.revision)
    return held, content


def _write(
    actor: Person,
    held: keys.Held,
    entry: LogbookEntry,
    content: EntryContent,
    now: dt.datetime,
    today: dt.date,
) -> LogbookEntry:
    before = entry.revision
    entry.revision, entry.changed_on = before + 1, today
    held.seal(entry, content.payload(), now)
    changed = (
        LogbookEntry.objects.of(actor)
        .filter(pk=entry.pk, revision=before)
        .update(blob=entry.blob, key_number=entry.key_number, revision=entry.revision, changed_on=today)
    )
    if not changed:
        raise NotNow
    return entry


def _checked(
    kind: str, line: str, event_on: dt.date, details: Mapping[str, str], today: dt.date
) -> EntryContent:
    if kind not in LogbookEntry.Kind.values:
        raise OutOfRange(field="kind", accepted=_("One of the kinds listed."))
    if not EARLIEST <= event_on <= today:
        raise OutOfRange(field="event_on", accepted=_("Today or a day before: it has happened already."))
    prompts = PROMPTS[kind]
    return EntryContent(
        kind=kind,
        line=one_line(line, field="line", most=TITLE),
        event_on=event_on,
        details={name: tidy for name in prompts if (tidy := _checked_detail(name, details.get(name, "")))},
    )


def _checked_detail(name: str, text: str) -> str:
    if name in _CHOICES:
        if text and text not in _CHOICES[name]:
            raise OutOfRange(field=name, accepted=_("One of those listed."))
        return text
    if name == "evidence":
        return _checked_link(text)
    return many_lines(text, field=name, most=WORDS, required=False)


def _checked_link(text: str) -> str:
    link = one_line(text, field="evidence", most=EVIDENCE_MOST, required=False)
    if not link:
        return ""
    try:
        parts = urlsplit(link)
        complete = parts.scheme in ("http", "https") and bool(parts.hostname) and " " not in link
    except ValueError:
        complete = False
    if not complete:
        raise OutOfRange(
            field="evidence", accepted=_("A whole address that starts with https:// or http://.")
        )
    return link
