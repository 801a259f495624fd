"""An agenda drawn as a rail of minutes, and the topics on it."""

from datetime import datetime, time, tzinfo

from oneonone.templatetags.elements.registry import Values, block_element, one_of

SIDES = ("manager", "report", "both")
STATES = ("", "current", "done")

LARGEST_SCALES = 5
"""From so many minutes on a topic has room for its title at the usual scale, on a phone too."""

LONGEST_CLASS_MINUTES = 240
"""The longest slot that ``rail-minutes.css`` has a class for; a longer one is drawn as long as this."""


@block_element
def rail(
    *,
    label: str,
    manager_brings: str = "",
    report_brings: str = "",
    ends_at: datetime | time,
    zone: tzinfo | str | None = None,
    margin_tab: str = "",
    slim: bool = False,
    movable: bool = False,
    shortest: int = 5,
    minutes: int = 60,
    prints_margin: bool = False,
) -> Values:
    """The rail; its content is ``rail_slot`` after ``rail_slot``.

    Everything on it is drawn to one scale, which follows the ``shortest`` topic on a screen and the
    ``minutes`` of the whole meeting on paper. The margin is printed only when ``prints_margin``.

    ``manager_brings`` and ``report_brings`` head the two halves ("Ines brings 12 minutes"). ``margin_tab``
    opens a column for the reader's margin and says from whom it is hidden. A ``slim`` rail has one column and
    no heads, to stand beside something larger. In a ``movable`` one slots can also be dragged, with
    ``drag-in-list.js``; it has the words for that.
    """
    return {
        "shortest": max(1, min(shortest, LARGEST_SCALES)),
        "height": max(1, min(minutes, LONGEST_CLASS_MINUTES)),
    }


@block_element
def rail_slot(
    *,
    starts_at: datetime | time,
    minutes: int,
    zone: tzinfo | str | None = None,
    id: str = "",
    now_at: int | None = None,
    movable: bool = False,
) -> Values:
    """One stretch of the rail, ``minutes`` long: a ``topic_box`` and, beside it, a ``rail_margin``.

    ``now_at`` are the minutes of it that are over, while the meeting runs. ``movable`` lets
    ``move-in-list.js`` and ``drag-in-list.js`` find it; it then needs an ``id``, and the title a link.
    """
    return {
        "height": max(1, min(minutes, LONGEST_CLASS_MINUTES)),
        "now_at": None if now_at is None else max(0, min(now_at, minutes, LONGEST_CLASS_MINUTES)),
    }


@block_element
def topic_box(
    *,
    title: str,
    side: str,
    minutes: int | None = None,
    href: str = "",
    whose: str = "",
    meta: str = "",
    reason: str = "",
    beside: str = "",
    held_free: bool = False,
    free: bool = False,
    state: str = "",
) -> None:
    """A topic in its box. ``side``: "manager", "report" or "both"; ``state``: "", "current" or "done".

    ``whose`` says the side in words ("Ines brings this"), shown where the halves are only indents. ``beside``
    is what the other side says of it ("Ines: first"). ``held_free`` hatches time that is kept free,
    ``free`` time that nobody has asked for. The content is whatever else belongs inside.
    """
    one_of(side, SIDES, "side")
    one_of(state, STATES, "state")


@block_element
def rail_margin(*, tab: str, id: str = "") -> None:
    """The reader's margin beside one slot, at its height; below it on a phone. ``tab`` is the rail's."""
