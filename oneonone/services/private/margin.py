"""The margin: private notes beside the agenda, one margin a side, under the author's own key."""

from __future__ import annotations

import datetime as dt

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone.models import MarginNote, Meeting, Topic
from oneonone.models.base import WORDS
from oneonone.sealed import CannotOpen
from oneonone.services.private import keys
from oneonone.services.refusals import NotNow, OutOfRange, Stale
from oneonone.services.text_limits import many_lines


@transaction.atomic
def write(
    *,
    topic: Topic | None = None,
    meeting: Meeting | None = None,
    words: str,
    unclear: bool,
    revision: int,
    actor: Person,
    now: dt.datetime,
    today: dt.date,
) -> MarginNote | None:
    """Keep what ``actor`` writes in their margin at a topic or at a meeting.

    ``revision`` is the one that was read, 0 for a note that was not there. Refused when the note has changed
    since, in another window of the same person's, with the words as they are now; text over the limit; a note
    that cannot be opened, because writing over it would lose it.
    Without words and mark the note is deleted, and None comes back.
    """
    if (topic is None) == (meeting is None):
        raise OutOfRange(field="words", accepted=_("A note at one topic or at one meeting."))
    tidy = many_lines(words, field="words", most=WORDS, required=False)
    notes = MarginNote.objects.of(actor)
    note: MarginNote | None = notes.filter(topic=topic, meeting=meeting).select_for_update().first()
    held = keys.Held(actor)
    if note is None:
        return _first(actor, held, topic, meeting, tidy, unclear, now, today) if tidy or unclear else None
    before = _words_of(held, note)
    if before is None:
        raise NotNow
    if note.revision != revision:
        raise Stale(theirs={"words": before}, version=note.revision)
    if not tidy and not unclear:
        notes.filter(pk=note.pk, revision=revision).delete()
        return None
    note.revision, note.changed_on = revision + 1, today
    held.seal(note, {"words": tidy, "unclear": unclear}, now)
    changed = notes.filter(pk=note.pk, revision=revision).update(
        blob=note.blob, key_number=note.key_number, revision=note.revision, changed_on=today
    )
    if not changed:
        raise Stale(theirs={"words": ""}, version=revision)
    return note


def _first(
    actor: Person,
    held: keys.Held,
    topic: Topic | None,
    meeting: Meeting | None,
    words: str,
    unclear: bool,
    now: dt.datetime,
    today: dt.date,
) -> MarginNote:
    note = MarginNote(owner=actor, topic=topic, meeting=meeting, created_on=today, changed_on=today)
    held.seal(note, {"words": words, "unclear": unclear}, now)
    try:
        with transaction.atomic():
            note.save(force_insert=True)
    except IntegrityError:
        # The same person's other window was first; its words are read anew with the page.
        raise Stale(theirs={"words": ""}, version=1) from None
    return note


def mark(
    *, topic: Topic, unclear: bool, actor: Person, now: dt.datetime, today: dt.date
) -> MarginNote | None:
    """Mark a topic unclear, or take the mark away; the words beside it stay.

    Refused when the note there cannot be opened: writing over it would lose it.
    """
    note = MarginNote.objects.of(actor).filter(topic=topic).first()
    words = "" if note is None else _words_of(keys.Held(actor), note)
    if words is None:
        raise NotNow
    return write(
        topic=topic,
        words=words,
        unclear=unclear,
        revision=0 if note is None else note.revision,
        actor=actor,
        now=now,
        today=today,
    )


def _words_of(held: keys.Held, note: MarginNote) -> str | None:
    """The note's words, or None when it cannot be opened."""
    try:
        return str(held.open(note).get("words", ""))
    except CannotOpen:
        return None
