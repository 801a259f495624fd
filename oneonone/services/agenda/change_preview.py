"""What a change would do: an act on the order is tried, shown, and kept only after a yes to just that.

The act itself is done and taken back, so that what is shown is what it does. A
yes names the very order it was given to, by a digest: whatever has changed since is shown again.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass, replace

from django.db import transaction

from accounts.models import Person
from oneonone import planner
from oneonone.models import Meeting
from oneonone.planner import Difference, Plan
from oneonone.selectors.agenda import order_view, planning, topic_cards
from oneonone.selectors.agenda.order_view import OrderView

# The order an act leads to when the other side has to agree to that first, else None.
LeadsTo = Plan | None
Act = Callable[[], LeadsTo]


@dataclass(frozen=True)
class OrderChange:
    """What an act makes of an order. ``asks`` is whether it first waits for the other side's yes."""

    before: Plan
    after: Plan
    asks: bool

    @property
    def difference(self) -> Difference:
        return planner.difference(self.before, self.after)

    @property
    def is_none(self) -> bool:
        """Whether every topic keeps its minutes, and none comes or goes."""
        return not self.asks and _boxes(self.before) == _boxes(self.after)

    @property
    def costs(self) -> bool:
        """Whether a topic is pushed out, has fewer minutes, or no longer stands where the hand put it."""
        told = self.difference
        given_up = set(self.after.given_up) - set(self.before.given_up)
        return bool(self.asks or told.pushed_out or told.shortened or given_up)

    @property
    def token(self) -> str:
        """What a yes to this change names."""
        said = json.dumps([_boxes(self.after), [out.key for out in self.after.left_out], self.asks])
        return hashlib.sha256(said.encode()).hexdigest()[:20]


@dataclass(frozen=True)
class PreviewedAct:
    """What became of an act. If it was not ``kept`` nothing is stored; ``order`` is what it would make."""

    kept: bool
    change: OrderChange
    order: OrderView | None
    titles: dict[str, str]


def attempt(
    *, meeting: Meeting, act: Act, actor: Person, taken: str = "", ask_about: Callable[[OrderChange], bool]
) -> PreviewedAct:
    """Do an act; unless what it makes is worth asking about, and ``taken`` is no yes to just that.

    Refusals of the act are the caller's, as without a trial. Rows that the act has changed are to be read
    again when it was not kept.
    """
    with transaction.atomic():
        before = planning.standing(meeting)
        waiting = act()
        meeting.refresh_from_db()
        after = planning.standing(meeting, like=before)
        if waiting is not None:
            after = replace(after, plan=waiting)
        change = OrderChange(before.plan, after.plan, asks=waiting is not None)
        kept = taken == change.token or not ask_about(change)
        shown = None
        if not kept:
            shown = order_view.would_be(actor, meeting, after, before=before.plan)
            transaction.set_rollback(True)
    if not kept:
        meeting.refresh_from_db()
    return PreviewedAct(kept, change, shown, topic_cards.titles_of(meeting))


def _boxes(plan: Plan) -> list[tuple[str, int, int]]:
    return [(slot.key, slot.start, slot.end) for slot in plan.slots]
