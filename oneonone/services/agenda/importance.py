"""How much a topic matters to a side: *first*, *in turn*, *if time allows*; two *first* an agenda at most."""

from __future__ import annotations

import datetime as dt
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone.models import Importance, Meeting, Placement, Side, Topic
from oneonone.selectors.dates import coming_meetings
from oneonone.services.refusals import NotNow, OutOfRange, TwoFirst

from . import issuing

MOST_FIRST = 2


@transaction.atomic
def set_importance(*, topic: Topic, level: str, actor: Person, now: dt.datetime) -> Topic:
    """Say how much a topic matters to one's own side. Each word that was said is a row; silence is none.

    Refused: a third *first* of one side on one agenda, naming the two.
    """
    side = topic.line.side_of(actor)
    if side is None:
        raise NotNow
    if level not in Importance.Level.values:
        raise OutOfRange(field="importance", accepted=_("One of: first, in turn, if time allows."))
    placement = (
        topic.placements.filter(outcome=Placement.Outcome.UNDECIDED).select_related("meeting__line").first()
    )
    if level == Importance.Level.FIRST and topic.state == Topic.State.OPEN:
        _check_third(topic, side, placement.meeting if placement else coming_meetings.earliest(topic.line))
    Importance.objects.update_or_create(topic=topic, side=side, defaults={"level": level, "was_first": False})
    if placement is not None:
        issuing.changed(meeting=placement.meeting, actor=actor, now=now, placement=placement)
    return topic


def _check_third(topic: Topic, side: Side, meeting: Meeting | None) -> None:
    """Refuse *first* where two other topics of the agenda are *first* to this side already."""
    firsts = _first_at(meeting, side, but=topic.pk)
    if len(firsts) >= MOST_FIRST:
        raise TwoFirst(
            field="importance",
            accepted=_(
                "Already first to you: “%(one)s” and “%(two)s”. Change one of them, or choose in turn."
            )
            % {"one": firsts[0], "two": firsts[1]},
        )


def _first_at(meeting: Meeting | None, side: Side, *, but: UUID) -> list[str]:
    """The titles of the topics on an agenda that are *first* to a side, oldest first."""
    rows = Topic.objects.filter(
        placements__in=Placement.objects.filter(meeting=meeting, outcome=Placement.Outcome.UNDECIDED),
        importances__in=Importance.objects.filter(side=side, level=Importance.Level.FIRST),
    ).exclude(pk=but)
    titles = rows.order_by("created_at", "id").values_list("title", flat=True)
    return [title or _("(words removed)") for title in titles]


def keep_two_first(*, topic: Topic, meeting: Meeting) -> None:
    """A topic comes onto an agenda: as a third that a side has called *first* it becomes *in turn*.

    The row remembers that it was *first*, so that the page can say so.
    """
    for row in Importance.objects.filter(topic=topic, level=Importance.Level.FIRST):
        if len(_first_at(meeting, Side(row.side), but=topic.pk)) >= MOST_FIRST:
            row.level, row.was_first = Importance.Level.IN_TURN, True
            row.save(update_fields=["level", "was_first"])
