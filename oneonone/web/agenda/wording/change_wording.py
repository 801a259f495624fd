"""What an act makes of an order, in sentences: where the topic begins, and what that costs the others."""

from __future__ import annotations

from collections.abc import Mapping

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from oneonone.models import Meeting
from oneonone.selectors.agenda.order_view import Box
from oneonone.services.agenda.change_preview import OrderChange
from oneonone.web.agenda.wording import reason_wording

Titles = Mapping[str, str]


def sentences(meeting: Meeting, change: OrderChange, titles: Titles, key: str) -> list[str]:
    """What is different: the topic itself first, then what it costs, then what the others gain."""
    told = change.difference
    if change.is_none:
        return [_("No topic’s minutes change.")]
    out = [titles.get(one, "") for one in told.pushed_out if one != key]
    said = _itself(meeting, change, titles, key)
    if out:
        said.append(
            ngettext(
                "It pushes out %(names)s: kept for next time.",
                "It pushes out %(names)s: all kept for next time.",
                len(out),
            )
            % {"names": reason_wording.listed(out)}
        )
    said += [_fewer(titles.get(one, ""), n) for one, n in told.shortened if one != key]
    said += [_more(titles.get(one, ""), n) for one, n in told.lengthened if one != key]
    came = [titles.get(one, "") for one in told.brought_in if one != key]
    if came:
        said.append(
            ngettext("%(names)s gets a place.", "%(names)s get places.", len(came))
            % {"names": reason_wording.listed(came)}
        )
    said += _elsewhere(change, titles, key)
    return said


def _itself(meeting: Meeting, change: OrderChange, titles: Titles, key: str) -> list[str]:
    clock, title = reason_wording.clock_of(meeting), titles.get(key, "")
    then, now = change.before.slot(key), change.after.slot(key)
    if now is None:
        out = _("“%(title)s” loses its place: it is kept for next time.")
        return [out % {"title": title}] if then is not None else []
    facts = {"title": title, "clock": clock(now.start), "minutes": reason_wording.minutes_words(now.minutes)}
    facts["then"] = clock(then.start) if then is not None else ""
    if then is None:
        return [_("“%(title)s” gets a place at %(clock)s, for %(minutes)s.") % facts]
    begins = _("“%(title)s” begins at %(clock)s, not at %(then)s.") % facts
    said = [begins] if then.start != now.start else []
    if then.minutes != now.minutes:
        more = now.minutes - then.minutes
        said.append(_more(title, more) if more > 0 else _fewer(title, -more))
    return said


def _fewer(title: str, minutes: int) -> str:
    text = ngettext("“%(title)s” has %(n)d minute fewer.", "“%(title)s” has %(n)d minutes fewer.", minutes)
    return text % {"title": title, "n": minutes}


def _more(title: str, minutes: int) -> str:
    text = ngettext("“%(title)s” has %(n)d minute more.", "“%(title)s” has %(n)d minutes more.", minutes)
    return text % {"title": title, "n": minutes}


def _elsewhere(change: OrderChange, titles: Titles, key: str) -> list[str]:
    """One sentence for others that only begin at another minute, so that nothing changes unsaid."""
    if not change.difference.moved or key in change.after.keys:
        return []
    return [_("Topics change places; the order below shows which.")]


def mark(box: Box) -> str:
    """What is different at one topic of an order that is not taken yet."""
    if box.change is None:
        return ""
    changed = box.minutes - box.change.minutes
    return {
        "new": _("Gets a place."),
        "moved": _("Changes places."),
        "longer": ngettext("%(n)d minute more.", "%(n)d minutes more.", changed) % {"n": changed},
        "shorter": ngettext("%(n)d minute fewer.", "%(n)d minutes fewer.", -changed) % {"n": -changed},
    }[box.change.kind]
