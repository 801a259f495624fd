"""What got in the way of a commitment, and what will be different: the owner's own words, sealed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone.models import WITHOUT_TEXT, Commitment, CommitmentPlan, ReasonCode
from oneonone.sealed import CannotOpen
from oneonone.services.commitments import due_dates
from oneonone.services.private import keys
from oneonone.services.refusals import NotNow, OutOfRange, Stale
from oneonone.services.text_limits import many_lines

MOST = 1000
TEXTS = ("text", "next_step", "when", "then", "help_wanted", "help_from", "basis")


@transaction.atomic
def write(
    *,
    commitment: Commitment,
    reason: str,
    texts: Mapping[str, str],
    revision: int,
    actor: Person,
    now: dt.datetime,
    today: dt.date,
) -> CommitmentPlan:
    """Keep why the owner's commitment is not done, and what they will do about it.

    ``texts`` has ``text`` (about the reason), ``next_step``, ``when`` and ``then`` ("when ..., I will ..."),
    ``help_wanted``, ``help_from`` and ``basis`` (what makes the new date likely). ``revision`` is the one
    that was read, 0 for none. Refused: a reason that is not listed, text beside a personal reason, text over
    its limit, a plan that has changed since, and one that cannot be opened.
    """
    due_dates.check_owner(commitment, actor)
    payload = _payload(reason, texts)
    rows = CommitmentPlan.objects.of(actor)
    row: CommitmentPlan | None = rows.filter(commitment=commitment).select_for_update().first()
    if row is None:
        row = CommitmentPlan(owner=actor, commitment=commitment, created_on=today, changed_on=today)
        keys.seal_for(author=actor, row=row, payload=payload, now=now)
        row.save(force_insert=True)
        return row
    try:
        kept = keys.open_for(actor, row)
    except CannotOpen:
        raise NotNow from None
    if row.revision != revision:
        raise Stale(theirs={"next_step": str(kept.get("next_step", ""))}, version=row.revision)
    row.revision, row.changed_on = revision + 1, today
    keys.seal_for(author=actor, row=row, payload=payload, now=now)
    changed = rows.filter(pk=row.pk, revision=revision).update(
        blob=row.blob, key_number=row.key_number, revision=row.revision, changed_on=today
    )
    if not changed:
        raise NotNow
    return row


def _payload(reason: str, texts: Mapping[str, str]) -> dict[str, str]:
    if reason not in ReasonCode.values:
        raise OutOfRange(field="reason", accepted=_("One of the reasons listed."))
    tidy = {name: many_lines(texts.get(name, ""), field=name, most=MOST, required=False) for name in TEXTS}
    if reason in WITHOUT_TEXT and tidy["text"]:
        raise OutOfRange(field="text", accepted=_("No words: a personal reason needs none."))
    return {"reason": reason, **tidy}


@transaction.atomic
def write_with_date(
    *,
    commitment: Commitment,
    reason: str,
    texts: Mapping[str, str],
    revision: int,
    date: dt.date | None,
    version: int,
    actor: Person,
    now: dt.datetime,
    today: dt.date,
) -> CommitmentPlan:
    """The plan and, where one is given, the new date of the commitment, both or neither.

    The date is shared; why it changed is not. ``version`` is the commitment's that was read.
    """
    plan = write(
        commitment=commitment,
        reason=reason,
        texts=texts,
        revision=revision,
        actor=actor,
        now=now,
        today=today,
    )
    if date is not None and date != commitment.current_date:
        due_dates.change_date(commitment=commitment, date=date, version=version, actor=actor, now=now)
    return plan
