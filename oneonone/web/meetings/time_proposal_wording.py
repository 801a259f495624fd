"""Why a time is proposed, in one sentence. It may say that somebody is busy, but not with what."""

from __future__ import annotations

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from oneonone.selectors.cadence.finding_times import Proposal


def why(one: Proposal) -> str:
    """The reason for one proposed time."""
    if one.reason == "as agreed":
        return _("The agreed day and time.")
    if one.reason == "overdue":
        return _("Overdue: one of the first free times.")
    if one.reason == "other time":
        return {
            "busy": _("The agreed day; at the agreed time you are busy in your calendar."),
            "meeting": _("The agreed day; at the agreed time you have another one-on-one."),
        }.get(one.obstacle, _("The agreed day; the agreed time goes to another one-on-one in this list."))
    near = {"day": date_format(one.wanted, _("l j F"))}
    return {
        "away": _("Near %(day)s, on which one of you does not work."),
        "busy": _("Near %(day)s, when you are busy in your calendar."),
        "meeting": _("Near %(day)s, when you have another one-on-one."),
    }.get(one.obstacle, _("Near %(day)s, so that they are spread over several days.")) % near
