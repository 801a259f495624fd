"""What a person has read and ticked for one meeting: a private row of theirs, under their own key."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone.models import Meeting, Preparation
from oneonone.sealed import CannotOpen
from oneonone.services.private import keys
from oneonone.services.refusals import NotAllowed, NotNow, OutOfRange

STEPS = ("order", "unclear", "notes")


def mark_read(
    *, meeting: Meeting, number: int, actor: Person, now: dt.datetime, today: dt.date
) -> Preparation:
    """Keep that ``actor`` has read the order of this number. Whatever else is kept there stays.

    Reading an older number after a newer one changes nothing. Refused: an order that the meeting does not
    have, and a row that cannot be opened, since writing over it would lose what is in it.
    """
    newest = meeting.orders.aggregate(newest=Max("number"))["newest"]
    if newest is None or not 1 <= number <= newest:
        raise OutOfRange(field="number", accepted=_("An order that this one-on-one has."))

    def read(payload: dict[str, Any]) -> dict[str, Any]:
        return {**payload, "order_read": max(number, int(payload.get("order_read") or 0))}

    return _change(meeting, read, actor, now, today)


def mark_commitment(
    *, meeting: Meeting, commitment_id: UUID, actor: Person, now: dt.datetime, today: dt.date
) -> Preparation:
    """Keep that ``actor`` has said, in preparing for this meeting, how a commitment of theirs went."""

    def say(payload: dict[str, Any]) -> dict[str, Any]:
        said = [*payload.get("commitments", ())]
        return {**payload, "commitments": [*dict.fromkeys([*said, str(commitment_id)])]}

    return _change(meeting, say, actor, now, today)


def mark_step(
    *, meeting: Meeting, step: str, done: bool, actor: Person, now: dt.datetime, today: dt.date
) -> Preparation:
    """Keep that a step is done or open again.

    Steps: ``order`` (while none is issued), ``unclear`` (topics looked through), ``notes``.
    """
    if step not in STEPS:
        raise OutOfRange(field="step", accepted=_("One of the steps of the page."))

    def tick(payload: dict[str, Any]) -> dict[str, Any]:
        others = [one for one in payload.get("steps", ()) if one != step]
        return {**payload, "steps": [*others, step] if done else others}

    return _change(meeting, tick, actor, now, today)


@transaction.atomic
def _change(
    meeting: Meeting,
    change: Callable[[dict[str, Any]], dict[str, Any]],
    actor: Person,
    now: dt.datetime,
    today: dt.date,
) -> Preparation:
    if meeting.line.side_of(actor) is None:
        raise NotAllowed
    rows = Preparation.objects.of(actor)
    row: Preparation | None = rows.filter(meeting=meeting).select_for_update().first()
    if row is None:
        row = Preparation(owner=actor, meeting=meeting, created_on=today, changed_on=today)
        keys.seal_for(author=actor, row=row, payload=change({}), now=now)
        row.save(force_insert=True)
        return row
    try:
        payload = keys.open_for(actor, row)
    except CannotOpen:
        raise NotNow from None
    changed_payload = change(payload)
    if changed_payload == payload:
        return row
    before = row.revision
    row.revision, row.changed_on = before + 1, today
    keys.seal_for(author=actor, row=row, payload=changed_payload, now=now)
    changed = rows.filter(pk=row.pk, revision=before).update(
        blob=row.blob, key_number=row.key_number, revision=row.revision, changed_on=today
    )
    if not changed:
        raise NotNow
    return row
