"""The reader's own plans for their commitments, opened with their own key."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field
from uuid import UUID

from accounts.models import Person
from oneonone.models import CommitmentPlan, ReasonCode
from oneonone.sealed import CannotOpen
from oneonone.selectors.private import keys


@dataclass(frozen=True)
class Plan:
    """What got in the way and what will be different. ``revision`` is 0 where nothing is kept."""

    revision: int = 0
    reason: str = ""
    texts: dict[str, str] = field(default_factory=dict, repr=False)
    cannot_be_opened: bool = False

    @property
    def reason_label(self) -> str:
        return str(ReasonCode(self.reason).label) if self.reason else ""

    @property
    def next_step(self) -> str:
        return self.texts.get("next_step", "")


NOTHING = Plan()


def plans_of(reader: Person, commitment_ids: Collection[UUID]) -> dict[UUID, Plan]:
    """The reader's plans for these commitments. Two queries."""
    opener = keys.Opener(reader)
    rows = CommitmentPlan.objects.of(reader).filter(commitment__in=list(commitment_ids))
    return {row.commitment_id: _opened(opener, row) for row in rows}


def plan_for(reader: Person, commitment_id: UUID) -> Plan:
    """The reader's plan for one commitment."""
    return plans_of(reader, [commitment_id]).get(commitment_id, NOTHING)


def _opened(opener: keys.Opener, row: CommitmentPlan) -> Plan:
    try:
        payload = opener.open(row)
    except CannotOpen:
        return Plan(revision=row.revision, cannot_be_opened=True)
    texts = {str(name): str(value) for name, value in payload.items() if name != "reason"}
    reason = str(payload.get("reason", ""))
    return Plan(revision=row.revision, reason=reason if reason in ReasonCode.values else "", texts=texts)
