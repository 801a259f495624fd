"""What a person has read and ticked for one meeting: a private row of theirs, under their own key."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone.models import Meeting, Preparation
from oneonone.sealed import CannotOpen
from oneonone.services.private import keys
from oneonone.services.refusals import NotAllowed, NotNow, OutOfRange


@transaction.atomic
def mark_read(
    *, meeting: Meeting, number: int, actor: Person, now: dt.datetime, today: dt.date
) -> Preparation:
    """Keep that ``actor`` has read the order of this number. Whatever else is kept there stays.

    Reading an older number after a newer one changes nothing. Refused: an order that the meeting does not
    have, and a row that cannot be opened, since writing over it would lose what is in it.
    """
    if meeting.line.side_of(actor) is None:
        raise NotAllowed
    newest = meeting.orders.aggregate(newest=Max("number"))["newest"]
    if newest is None or not 1 <= number <= newest:
        raise OutOfRange(field="number", accepted=_("An order that this one-on-one has."))
    rows = Preparation.objects.of(actor)
    row: Preparation | None = rows.filter(meeting=meeting).select_for_update().first()
    if row is None:
        row = Preparation(owner=actor, meeting=meeting, created_on=today, changed_on=today)
        keys.seal_for(author=actor, row=row, payload={"order_read": number}, now=now)
        row.save(force_insert=True)
        return row
    try:
        payload = keys.open_for(actor, row)
    except CannotOpen:
        raise NotNow from None
    if int(payload.get("order_read") or 0) >= number:
        return row
    before = row.revision
    row.revision, row.changed_on = before + 1, today
    keys.seal_for(author=actor, row=row, payload={**payload, "order_read": number}, now=now)
    changed = rows.filter(pk=row.pk, revision=before).update(
        blob=row.blob, key_number=row.key_number, revision=row.revision, changed_on=today
    )
    if not changed:
        raise NotNow
    return row
