"""Proposals that wait for an answer, in sentences, with the effect of each answer."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from oneonone.models import Proposal
from oneonone.selectors.agenda.agenda_page import Head, Waiting
from oneonone.selectors.dates.time_proposals import WaitingTime
from oneonone.web import wording
from oneonone.web.agenda.wording import reason_wording

Kind = Proposal.Kind


@dataclass(frozen=True)
class WaitingRow:
    """One proposal. ``yes`` and ``no`` label its buttons; ``takes_back``: its author may take it back."""

    waiting: Waiting | WaitingTime
    words: str
    effect: str
    yes: str
    no: str
    takes_back: bool = False


def rows(head: Head, proposals: Sequence[Waiting]) -> tuple[WaitingRow, ...]:
    """The proposals on a page of a meeting, those that wait for the reader first.

    Late topics are left out while the other side has not joined, because nobody can answer them.
    """
    asked = [one for one in proposals if head.other_joined or one.kind != Kind.LATE_TOPIC]
    said = [row for waiting in asked if (row := _row(head, waiting)) is not None]
    return tuple(sorted(said, key=lambda row: row.waiting.by_you))


def beside(head: Head, waiting: Waiting | None) -> str:
    """The sentence at a late topic without a place: whose answer it waits for."""
    if not head.other_joined:
        return _("%(other)s has not joined yet, so you can make room for it yourself.") % {
            "other": head.other
        }
    if waiting is None:
        return _("Both of you have to agree to make room for it.")
    if waiting.by_you:
        return _("It waits for %(other)s’s answer.") % {"other": head.other}
    return _("It waits for your answer at the top of the page.")


def times(proposed: Sequence[WaitingTime]) -> tuple[WaitingRow, ...]:
    """Proposed times, for pages that are not about a single meeting."""
    return tuple(_time(waiting) for waiting in proposed)


def _row(head: Head, waiting: Waiting) -> WaitingRow | None:
    if waiting.time is not None:
        return _time(waiting.time)
    facts = {
        "by": waiting.by,
        "other": head.other,
        "title": waiting.topic.title if waiting.topic else "",
        "action": waiting.action,
        "minutes": reason_wording.minutes_words(waiting.minutes or waiting.topic.minutes_wanted)
        if waiting.topic
        else "",
        "interval": _interval(waiting),
        "clock": "" if waiting.start is None else reason_wording.clock_of(head.meeting)(waiting.start),
    }
    texts = _texts(waiting)
    if texts is None:
        return None
    words, effect, yes = (text % facts for text in texts)
    takes_back = waiting.kind in (Kind.LATE_TOPIC, Kind.HAND_OVER)
    return WaitingRow(
        waiting=waiting, words=words, effect=effect, yes=yes, no=_("Decline"), takes_back=takes_back
    )


def _time(waiting: WaitingTime) -> WaitingRow:
    facts = {
        "by": waiting.by,
        "other": waiting.other,
        "when": _moment(waiting.starts_at, waiting.zone),
        "was": _moment(waiting.was, waiting.zone),
        "minutes": reason_wording.minutes_words(waiting.minutes),
    }
    texts = _texts_of_extra(waiting) if waiting.was is None else _texts_of_time(waiting, waiting.was)
    words, effect, yes = (text % facts for text in texts)
    return WaitingRow(waiting, words, effect, yes, _("Decline"), takes_back=True)


def _texts_of_time(waiting: WaitingTime, was: dt.datetime) -> tuple[str, str, str]:
    if waiting.by_you:
        words = _("You proposed %(when)s instead of %(was)s. %(other)s has not answered yet.")
    elif waiting.starts_at < was:
        words = _("%(by)s proposes to meet earlier: %(when)s instead of %(was)s.")
    else:
        words = _("%(by)s proposes another time: %(when)s instead of %(was)s.")
    effect = _("If you accept, it moves there with its topics. If you decline, the time stays as it is.")
    return words, effect, _("Move it")


def _texts_of_extra(waiting: WaitingTime) -> tuple[str, str, str]:
    words = (
        _("You proposed an extra one-on-one on %(when)s, %(minutes)s. %(other)s has not answered yet.")
        if waiting.by_you
        else _("%(by)s proposes an extra one-on-one on %(when)s, %(minutes)s.")
    )
    effect = _("It is in addition to your regular dates, which stay as they are.")
    return words, effect, _("Plan it")


def _moment(instant: dt.datetime | None, zone: str) -> str:
    return "" if instant is None else date_format(instant.astimezone(ZoneInfo(zone)), _("l j F, H:i"))


def _texts(waiting: Waiting) -> tuple[str, str, str] | None:
    """Sentence, effect of the answers, and the button that accepts; None for kinds without a page."""
    if waiting.kind == Kind.LATE_TOPIC:
        return (
            _late(waiting),
            _("Other topics move, get shorter or are kept for next time. You see which before you agree."),
            _("Make room for it"),
        )
    if waiting.kind == Kind.HAND_OVER:
        return (
            _("You asked %(other)s to take over “%(action)s”. It stays yours until they accept.")
            if waiting.by_you
            else _("%(by)s asks you to take over: “%(action)s”."),
            _("If you accept, it becomes yours, with its dates. If you decline, it stays with %(by)s."),
            _("Take it over"),
        )
    if waiting.kind == Kind.INTERVAL:
        return (
            _("You proposed to meet %(interval)s. %(other)s has not answered yet.")
            if waiting.by_you
            else _("%(by)s proposes to meet %(interval)s."),
            _interval_effect(waiting),
            _("Agree"),
        )
    return None


def _late(waiting: Waiting) -> str:
    if waiting.minutes is not None:
        return (
            _("You asked for %(minutes)s for “%(title)s”. %(other)s has not answered yet.")
            if waiting.by_you
            else _("%(by)s asks for %(minutes)s for “%(title)s”, after the order was issued.")
        )
    if waiting.start is None:
        return (
            _("You asked for a place for “%(title)s” (%(minutes)s). %(other)s has not answered yet.")
            if waiting.by_you
            else _("%(by)s asks for a place for “%(title)s” (%(minutes)s), after the order was issued.")
        )
    return (
        _("You asked for a place for “%(title)s” at %(clock)s (%(minutes)s). %(other)s has not answered yet.")
        if waiting.by_you
        else _(
            "%(by)s asks for a place for “%(title)s” at %(clock)s (%(minutes)s), after the order was issued."
        )
    )


def _interval_effect(waiting: Waiting) -> str:
    """What the answer does to the coming dates. A manager's proposal has moved them already."""
    if waiting.makes_dates:
        return _("The coming dates follow it already. If you decline, the old dates come back.")
    return _("If you agree, the coming dates change. If you decline, they stay as they are.")


def _interval(waiting: Waiting) -> str:
    if waiting.interval is not None:
        return wording.interval_in_full(waiting.interval)
    return ""
