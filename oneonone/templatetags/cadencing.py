"""What the cadence page draws and says: ``{% load cadencing %}``."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from django import template
from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import ngettext

from oneonone.selectors.cadence.cadence import Sums
from oneonone.web import wording
from oneonone.web.cadence import year_drawing
from oneonone.web.cadence.wording import cadence_wording
from oneonone.web.cadence.year_drawing import HEIGHT, MIDDLE, STRIP, WIDTH, Drawing

register = template.Library()

# The classes and the path of one shape of each kind, as the legend shows it.
_X = 12
_KEYS = {
    "held": ("year-dot", year_drawing.dot(_X)),
    "confirmed": ("year-ring", year_drawing.ring(_X)),
    "by-interval": ("year-ring year-dashed", year_drawing.ring(_X)),
    "not-said": ("year-ring", year_drawing.ring(_X) + year_drawing.dot(_X)),
    "called-off": ("year-cross", year_drawing.cross(_X)),
    "not-held": ("year-ring", year_drawing.diamond(_X)),
    "moved": ("year-moved", "M5 8V4H19V7"),
    "paused": ("year-paused", f"M2 9H22M2 {MIDDLE + 3}H22"),
    "past": ("year-past", "M2 6H22V18H2z"),
    "today": ("year-today", f"M{_X} 0V{HEIGHT}"),
}


@register.inclusion_tag("cadence/parts/cadence_year.html")
def year(drawing: Drawing, *, name: str, label: str, months: Sequence[str]) -> dict[str, Any]:
    """The picture of one line: whole where there is room, in strips of five months where there is not.

    ``name`` is its own on the page: the strips repeat what is drawn once.
    """
    each = STRIP // year_drawing.MONTH
    strips = [
        {"left": start * year_drawing.MONTH, "width": STRIP, "months": months[start : start + each]}
        for start in range(0, len(months), each)
    ]
    return {
        "drawing": drawing,
        "label": label,
        "id": f"year-{name}",
        "width": WIDTH,
        "height": HEIGHT,
        "strips": strips,
    }


@register.simple_tag
def key(name: str) -> SafeString:
    """One shape of the legend."""
    classes, path = _KEYS[name]
    hatch = mark_safe(' fill="url(#year-hatch)"') if name == "past" else ""  # constant
    return format_html(
        '<svg class="year-key" viewBox="0 0 24 24" aria-hidden="true"><path class="{}"{} d="{}" /></svg>',
        classes,
        hatch,
        path,
    )


@register.simple_tag
def every(number: int, unit: str) -> str:
    """ "every 13 weeks", "every month"."""
    return wording.every(number, unit)


@register.filter
def numbers_strong(sentence: str) -> SafeString:
    """A sentence whose numbers stand out, so that they are found again while it is said."""
    strong = re.sub(r"\d+", r"<strong>\g<0></strong>", conditional_escape(sentence))
    return mark_safe(strong)  # noqa: S308  # escaped above


@register.simple_tag
def brief(sums: Sums) -> str:
    """What is to be said of one manager's lines, in half a sentence."""
    lines = ngettext("%(n)d line", "%(n)d lines", sums.lines) % {"n": sums.lines}
    return ", ".join([lines, *cadence_wording.briefly(sums)])
