"""What a move by hand has done, in sentences: where the topic is now, and what that costs the others."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from oneonone.models import Order, Placement
from oneonone.services.agenda import Moved
from oneonone.web import reasons

Minutes = dict[str, int]


def what_it_cost(placement: Placement, moved: Moved) -> str:
    """Where the topic begins now, what is pushed out or comes in, and who has fewer minutes."""
    order, key = moved.order, str(placement.pk)
    said = [_where(placement, order)]
    out = [row.topic.title for row in moved.pushed_out if row.pk != placement.pk]
    if out:
        said.append(_("That pushes out %(names)s: kept for next time.") % {"names": _names(out)})
    before, after = _minutes(_before(order)), _minutes(order)
    titles = _titles(order)
    if before:
        said += _others(before, after, {k: title for k, title in titles.items() if k != key})
    return " ".join(said)


def _where(placement: Placement, order: Order) -> str:
    clock, key = reasons.clock_of(placement.meeting), str(placement.pk)
    slot = next((slot for slot in order.plan["slots"] if slot["key"] == key), None)
    facts = {"title": placement.topic.title, "clock": clock(slot["start"]) if slot else ""}
    if slot is None:
        return _("“%(title)s” has no room there.") % facts
    return _("“%(title)s” now begins at %(clock)s.") % facts


def _others(before: Minutes, after: Minutes, titles: Mapping[str, str]) -> list[str]:
    come_in = [title for key, title in titles.items() if key in after and key not in before]
    said = [_("%(names)s now has a place.") % {"names": _names([title])} for title in come_in]
    for key, title in titles.items():
        fewer = before.get(key, 0) - after.get(key, 0)
        if key in before and key in after and fewer > 0:
            text = ngettext(
                "“%(title)s” has %(n)d minute fewer.", "“%(title)s” has %(n)d minutes fewer.", fewer
            )
            said.append(text % {"title": title, "n": fewer})
    return said


def _before(order: Order) -> Order | None:
    return Order.objects.filter(meeting=order.meeting_id, number=order.number - 1).first()


def _minutes(order: Order | None) -> Minutes:
    slots = order.plan["slots"] if order is not None else ()
    return {slot["key"]: slot["end"] - slot["start"] for slot in slots}


def _titles(order: Order) -> dict[str, str]:
    rows = Placement.objects.filter(meeting=order.meeting_id).order_by("added_at", "id")
    return {str(pk): title for pk, title in rows.values_list("pk", "topic__title")}


def _names(titles: Iterable[str]) -> str:
    return _(", ").join(f"“{title}”" for title in titles)
