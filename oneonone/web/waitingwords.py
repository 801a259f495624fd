"""What waits for somebody's answer, in a sentence, with what a yes would do."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from oneonone.models import Proposal
from oneonone.selectors.agenda.page import Head, Waiting
from oneonone.selectors.timeproposals import WaitingTime
from oneonone.web import reasons, wording

Kind = Proposal.Kind


@dataclass(frozen=True)
class WaitingRow:
    """One proposal. ``yes`` labels the button that accepts it; some are taken back by who made them."""

    waiting: Waiting | WaitingTime
    words: str
    effect: str
    yes: str
    no: str
    takes_back: bool = False


def rows(head: Head, proposals: Sequence[Waiting]) -> tuple[WaitingRow, ...]:
    """The proposals on a page of a meeting, the ones that wait for the reader first.

    Room that is asked of somebody who has not joined waits for nobody yet.
    """
    asked = [one for one in proposals if head.other_joined or one.kind != Kind.LATE_TOPIC]
    said = [row for waiting in asked if (row := _row(head, waiting)) is not None]
    return tuple(sorted(said, key=lambda row: row.waiting.by_you))


def beside(head: Head, waiting: Waiting | None) -> str:
    """What stands at a late topic without a place: whose answer it waits for, if it was asked for."""
    if not head.other_joined:
        return _("%(other)s has not joined yet: you decide whether room is made for it.") % {
            "other": head.other
        }
    if waiting is None:
        return _("Making room for it takes a yes from both.")
    if waiting.by_you:
        return _("It waits for %(other)s’s yes.") % {"other": head.other}
    return _("It waits for your answer, at the top of the page.")


def times(proposed: Sequence[WaitingTime]) -> tuple[WaitingRow, ...]:
    """Proposed times on pages that are about no one meeting."""
    return tuple(_time(waiting) for waiting in proposed)


def _row(head: Head, waiting: Waiting) -> WaitingRow | None:
    if waiting.time is not None:
        return _time(waiting.time)
    facts = {
        "by": waiting.by,
        "other": head.other,
        "title": waiting.topic.title if waiting.topic else "",
        "action": waiting.action,
        "minutes": reasons.minutes_words(waiting.minutes or waiting.topic.minutes_wanted)
        if waiting.topic
        else "",
        "interval": _interval(waiting),
        "clock": "" if waiting.start is None else reasons.clock_of(head.meeting)(waiting.start),
    }
    texts = _texts(waiting)
    if texts is None:
        return None
    words, effect, yes, no = (text % facts for text in texts)
    takes_back = waiting.kind in (Kind.LATE_TOPIC, Kind.HAND_OVER)
    return WaitingRow(waiting=waiting, words=words, effect=effect, yes=yes, no=no, takes_back=takes_back)


def _time(waiting: WaitingTime) -> WaitingRow:
    facts = {
        "by": waiting.by,
        "other": waiting.other,
        "when": _moment(waiting.starts_at, waiting.zone),
        "was": _moment(waiting.was, waiting.zone),
        "minutes": reasons.minutes_words(waiting.minutes),
    }
    texts = _texts_of_extra(waiting) if waiting.was is None else _texts_of_time(waiting, waiting.was)
    words, effect, yes, no = (text % facts for text in texts)
    return WaitingRow(waiting, words, effect, yes, no, takes_back=True)


def _texts_of_time(waiting: WaitingTime, was: dt.datetime) -> tuple[str, str, str, str]:
    if waiting.by_you:
        words = _("Your proposal waits for %(other)s: %(when)s instead of %(was)s.")
    elif waiting.starts_at < was:
        words = _("%(by)s proposes to meet earlier: %(when)s instead of %(was)s.")
    else:
        words = _("%(by)s proposes another time: %(when)s instead of %(was)s.")
    effect = _("A yes moves it there; it stays the same one-on-one. A no leaves it where it is.")
    return words, effect, _("Move it there"), _("Leave it where it is")


def _texts_of_extra(waiting: WaitingTime) -> tuple[str, str, str, str]:
    words = (
        _("Your proposal waits for %(other)s: an extra one-on-one on %(when)s, %(minutes)s.")
        if waiting.by_you
        else _("%(by)s proposes an extra one-on-one on %(when)s, %(minutes)s.")
    )
    effect = _("It would be outside the interval: the agreed dates stay as they are.")
    return words, effect, _("Plan it"), _("Rather not")


def _moment(instant: dt.datetime | None, zone: str) -> str:
    return "" if instant is None else date_format(instant.astimezone(ZoneInfo(zone)), _("l j F, H:i"))


def _texts(waiting: Waiting) -> tuple[str, str, str, str] | None:
    """Sentence, effect of a yes, and the two buttons; None for kinds that have no page yet."""
    if waiting.kind == Kind.LATE_TOPIC:
        return (
            _late(waiting),
            _("A yes moves or shortens other topics, or keeps one for next time; you see which first."),
            _("Make room for it"),
            _("Leave the order as it is"),
        )
    if waiting.kind == Kind.HAND_OVER:
        return (
            _("You have offered “%(action)s” to %(other)s; it stays with you until they take it.")
            if waiting.by_you
            else _("%(by)s asks you to take over: “%(action)s”."),
            _("A yes makes it yours, with the dates it has. A no leaves it where it is."),
            _("I take it over"),
            _("Leave it where it is"),
        )
    if waiting.kind == Kind.INTERVAL:
        return (
            _("Your proposal waits for %(other)s: %(interval)s.")
            if waiting.by_you
            else _("%(by)s proposes another interval: %(interval)s."),
            _interval_effect(waiting),
            _("Agree"),
            _("Decline"),
        )
    return None


def _late(waiting: Waiting) -> str:
    if waiting.minutes is not None:
        return (
            _("You ask for %(minutes)s for “%(title)s”; that waits for %(other)s’s yes.")
            if waiting.by_you
            else _("%(by)s asks for %(minutes)s for “%(title)s”, after the order was issued.")
        )
    if waiting.start is None:
        return (
            _("Your late topic “%(title)s” (%(minutes)s) waits for %(other)s’s yes.")
            if waiting.by_you
            else _("%(by)s asks for a place for “%(title)s” (%(minutes)s), after the order was issued.")
        )
    return (
        _("Your late topic “%(title)s” (%(minutes)s, from %(clock)s) waits for %(other)s’s yes.")
        if waiting.by_you
        else _(
            "%(by)s asks for a place for “%(title)s” at %(clock)s (%(minutes)s), after the order was issued."
        )
    )


def _interval_effect(waiting: Waiting) -> str:
    """What the answer does to the dates: a manager's proposal has moved them already."""
    if waiting.makes_dates:
        return _("The dates go by it already. A yes keeps them; a no brings the old ones back.")
    return _("A yes moves the coming dates. A no leaves them as they are.")


def _interval(waiting: Waiting) -> str:
    if waiting.interval is not None:
        return wording.interval_in_full(waiting.interval)
    return ""
