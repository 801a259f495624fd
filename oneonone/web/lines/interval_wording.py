"""The effect of a new interval on existing dates, shown before it is proposed."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from oneonone.models import Meeting, Side
from oneonone.selectors.lines.lines import LinePage


def beforehand(page: LinePage) -> list[str]:
    """What the form does: to the coming one-on-one, to the dates after it, and if the answer is no."""
    other = {"other": page.other}
    return [*_in_return(page), *_beforehand(page, other)]


def _in_return(page: LinePage) -> list[str]:
    """Say what happens to another proposal that waits for an answer."""
    waiting = page.proposal
    if waiting is None:
        return []
    if waiting.side == page.side.value:
        return [
            _("It replaces your earlier proposal, which %(other)s has not answered yet.")
            % {"other": page.other}
        ]
    return [_("It declines the proposal by %(other)s.") % {"other": page.other}]


def _beforehand(page: LinePage, other: dict[str, str]) -> list[str]:
    if page.side is Side.MANAGER and not page.joined:
        return [_("%(other)s has not joined yet, so your interval applies at once.") % other, *_coming(page)]
    if page.side is Side.MANAGER:
        return [
            _("The coming dates move at once."),
            *_coming(page),
            _("If %(other)s declines, the present dates come back.") % other,
            _("Until %(other)s answers, overdue is counted by the interval that you last agreed on.") % other,
        ]
    return [_("The dates change once %(other)s agrees.") % other, *_coming(page)]


def _coming(page: LinePage) -> list[str]:
    meeting = page.coming
    if meeting is None or meeting.state == Meeting.State.UNDER_WAY:
        return []
    day = {"day": date_format(meeting.starts_at.astimezone(ZoneInfo(meeting.zone)), _("l j F"))}
    if meeting.is_extra or meeting.confirmed_at is not None:
        said = _("The one-on-one on %(day)s is confirmed and does not move. The new dates begin after it.")
    else:
        said = _(
            "The one-on-one expected on %(day)s moves to the first date that you enter here, with the new "
            "time, length and place. Its topics stay."
        )
    return [said % day]


def moved(before: Meeting | None, after: Meeting | None) -> str:
    """Say where the coming one-on-one has moved to. Empty if it did not move."""
    if before is None or after is None or before.pk != after.pk or before.starts_at == after.starts_at:
        return ""
    return _("The one-on-one on %(was)s has moved to %(now)s.") % {"was": _when(before), "now": _when(after)}


def _when(meeting: Meeting) -> str:
    return date_format(meeting.starts_at.astimezone(ZoneInfo(meeting.zone)), _("l j F, H:i"))
