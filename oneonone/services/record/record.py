"""The record of a meeting: lines with an author, a snapshot at closing, dated additions, who has seen it."""

from __future__ import annotations

import datetime as dt
from uuid import UUID

from django.db import transaction
from django.db.models import F
from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone.models import (
    Commitment,
    Line,
    Meeting,
    Order,
    Placement,
    RecordAddition,
    RecordLine,
    Seen,
    Snapshot,
)
from oneonone.models.base import WORDS
from oneonone.services import idempotency
from oneonone.services.refusals import NotAllowed, NotNow, OutOfRange, Stale
from oneonone.services.text_limits import many_lines

WRITTEN = (RecordLine.Kind.SAID, RecordLine.Kind.DECIDED)


def can_be_written(*, meeting: Meeting, now: dt.datetime) -> bool:
    """Whether lines may be added and edited: while under way, and once closed until the record instant.

    A meeting that was held on paper is closed when somebody says so, and can be written up until then too.
    """
    if not meeting.line.is_open or meeting.line.start == Line.Start.ALONE:
        return False
    if meeting.state == Meeting.State.UNDER_WAY:
        return True
    return meeting.state == Meeting.State.CLOSED and now < meeting.record_at


@transaction.atomic
def write(
    *,
    meeting: Meeting,
    kind: str,
    words: str,
    actor: Person,
    now: dt.datetime,
    placement: Placement | None = None,
    client_key: UUID | None = None,
) -> RecordLine:
    """Add a line: what was said, or what was decided, at a topic or at the meeting as a whole.

    Refused: another kind (what is taken on is a commitment), a topic of another meeting, empty or too long
    words, a meeting that is not under way and no longer being written up.
    """
    earlier = idempotency.result(actor=actor, client_key=client_key, act="record.write", model=RecordLine)
    if earlier is not None:
        return earlier
    if kind not in WRITTEN:
        raise OutOfRange(field="kind", accepted=_("Said or decided."))
    _check(meeting, placement, actor, now)
    line = RecordLine(
        meeting=meeting,
        placement=placement,
        author=actor,
        kind=kind,
        words=many_lines(words, field="words", most=WORDS),
        at=now,
    )
    line.save(force_insert=True)
    touch(meeting)
    idempotency.done(actor=actor, client_key=client_key, act="record.write", subject=line.pk, now=now)
    return line


def take_down(
    *, meeting: Meeting, commitment: Commitment, placement: Placement | None, actor: Person, now: dt.datetime
) -> RecordLine:
    """The line that points at a commitment made in this meeting, and repeats nothing of it."""
    _check(meeting, placement, actor, now)
    line = RecordLine(
        meeting=meeting,
        placement=placement,
        author=actor,
        kind=RecordLine.Kind.TAKEN_ON,
        commitment=commitment,
        at=now,
    )
    line.save(force_insert=True)
    touch(meeting)
    return line


def _check(meeting: Meeting, placement: Placement | None, actor: Person, now: dt.datetime) -> None:
    if meeting.line.side_of(actor) is None or not can_be_written(meeting=meeting, now=now):
        raise NotNow
    if placement is not None and placement.meeting_id != meeting.pk:
        raise OutOfRange(field="placement", accepted=_("A topic of this one-on-one."))


@transaction.atomic
def edit(*, line: RecordLine, words: str, version: int, actor: Person, now: dt.datetime) -> RecordLine:
    """Change the words of one's own line.

    Refused: somebody else's line, a commitment's line, a frozen record, and a line that has changed since
    ``version`` was read, with its current words.
    """
    if line.author_id != actor.pk:
        raise NotAllowed(accepted=_("You can add a line of your own."))
    if line.kind not in WRITTEN or line.removed_at is not None:
        raise NotNow
    if not can_be_written(meeting=line.meeting, now=now):
        raise NotNow(field="words", accepted=_("An addition with its date is possible."))
    tidy = many_lines(words, field="words", most=WORDS)
    changed = RecordLine.objects.filter(pk=line.pk, version=version, removed_at__isnull=True).update(
        words=tidy, changed_at=now, version=F("version") + 1
    )
    line.refresh_from_db()
    if not changed:
        raise Stale(theirs={"words": line.words}, version=line.version)
    touch(line.meeting)
    return line


@transaction.atomic
def remove(*, line: RecordLine, actor: Person, now: dt.datetime) -> RecordLine:
    """Remove one's own text from a line, at any time. The row stays, with the day of removal.

    Refused: somebody else's line, and the line of a commitment, which has no words of its own.
    """
    if line.author_id != actor.pk:
        raise NotAllowed
    if line.kind not in WRITTEN:
        raise NotNow
    RecordLine.objects.filter(pk=line.pk, removed_at__isnull=True).update(
        words="", blob=None, key_number=None, removed_at=now, changed_at=now, version=F("version") + 1
    )
    line.refresh_from_db()
    touch(line.meeting)
    return line


@transaction.atomic
def add(
    *, meeting: Meeting, words: str, actor: Person, now: dt.datetime, client_key: UUID | None = None
) -> RecordAddition:
    """Add to a record that is frozen; the addition carries its own date.

    Refused while the record can still be written, and for a meeting that was not closed.
    """
    earlier = idempotency.result(actor=actor, client_key=client_key, act="record.add", model=RecordAddition)
    if earlier is not None:
        return earlier
    line = meeting.line
    if line.side_of(actor) is None or not line.is_open or meeting.state != Meeting.State.CLOSED:
        raise NotNow
    if can_be_written(meeting=meeting, now=now):
        raise NotNow(field="words", accepted=_("Until the record is kept, write a line."))
    addition = RecordAddition(
        meeting=meeting, author=actor, words=many_lines(words, field="words", most=WORDS), at=now
    )
    addition.save(force_insert=True)
    touch(meeting)
    idempotency.done(actor=actor, client_key=client_key, act="record.add", subject=addition.pk, now=now)
    return addition


@transaction.atomic
def remove_addition(*, addition: RecordAddition, actor: Person, now: dt.datetime) -> RecordAddition:
    """Remove one's own text from an addition. The row stays, with the day of removal."""
    if addition.author_id != actor.pk:
        raise NotAllowed
    RecordAddition.objects.filter(pk=addition.pk, removed_at__isnull=True).update(words="", removed_at=now)
    addition.refresh_from_db()
    touch(addition.meeting)
    return addition


@transaction.atomic
def mark_seen(*, meeting: Meeting, actor: Person, now: dt.datetime) -> Seen:
    """Mark the record as seen by a side. This does not mean agreement. Idempotent: the first time is kept."""
    side = meeting.line.side_of(actor)
    if side is None or meeting.state != Meeting.State.CLOSED:
        raise NotNow
    seen, _made = Seen.objects.get_or_create(meeting=meeting, side=side, defaults={"by": actor, "at": now})
    return seen


@transaction.atomic
def snapshot(*, meeting: Meeting, actor: Person | None, now: dt.datetime) -> Snapshot:
    """Store the record's present state as ids with versions, without text. One per meeting."""
    kept, _made = Snapshot.objects.get_or_create(
        meeting=meeting, defaults={"by": actor, "at": now, "rows": _rows(meeting)}
    )
    return kept


def _rows(meeting: Meeting) -> dict[str, object]:
    lines = RecordLine.objects.filter(meeting=meeting).values_list("pk", "version")
    open_then = Commitment.objects.filter(line=meeting.line, state=Commitment.State.OPEN)
    placements = Placement.objects.filter(meeting=meeting).values_list(
        "pk", "topic_id", "topic__version", "outcome"
    )
    order = Order.objects.filter(meeting=meeting).order_by("-number").values_list("number", flat=True).first()
    return {
        "lines": [[str(pk), version] for pk, version in lines],
        "commitments": [[str(pk), version] for pk, version in open_then.values_list("pk", "version")],
        "placements": [[str(pk), str(topic), version, outcome] for pk, topic, version, outcome in placements],
        "order": order,
    }


def touch(meeting: Meeting) -> None:
    """Increase the counter that makes open pages reload, in the transaction of the change."""
    Meeting.objects.filter(pk=meeting.pk).update(seq=F("seq") + 1)
