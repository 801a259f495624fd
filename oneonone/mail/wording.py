"""What mails say of a notice: who and when, in the reader's own zone. Nobody's words about anything."""

from __future__ import annotations

import datetime as dt
import unicodedata
from zoneinfo import ZoneInfo

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone.models import Notice
from oneonone.selectors.notices.notices import NoticeView

Kind = Notice.Kind


def sentence(notice: NoticeView, reader: Person) -> str:
    """One sentence: what it is about, with whom, when."""
    facts = {
        "other": plain(notice.other),
        "when": when(notice.starts_at, reader),
        "date": date_format(notice.date, _("l j F Y")) if notice.date is not None else "",
    }
    return _sentences()[notice.code] % facts


def _sentences() -> dict[str, str]:
    return {
        Kind.INVITE: _("You meet %(other)s on %(when)s. What would you like to talk about?"),
        Kind.ISSUED: _("The order for your one-on-one with %(other)s on %(when)s can be read."),
        Kind.PREPARE: _("Today is the last day to prepare: you meet %(other)s on %(when)s."),
        Kind.TODAY: _("You meet %(other)s on %(when)s."),
        Kind.RECORD: _("The record of your one-on-one with %(other)s on %(when)s is there to be looked at."),
        Kind.MOVED: _("You now meet %(other)s on %(when)s."),
        Kind.EXTRA: _("You also meet %(other)s on %(when)s, outside the interval."),
        Kind.CLOCKS: _("The rules of the clocks have changed. You now meet %(other)s on %(when)s."),
        Kind.CALLED_OFF: _("The one-on-one with %(other)s on %(when)s does not take place. Nothing is lost."),
        Kind.UNANSWERED: _("Did you and %(other)s meet on %(when)s? A yes or no keeps the dates right."),
        Kind.LEFT_OPEN: _("The one-on-one with %(other)s of %(when)s was never closed. Is it over?"),
        Kind.CADENCE: _("You and %(other)s agreed to meet again by %(date)s, and nothing is planned."),
        "cadence over": _("You and %(other)s agreed to meet again by %(date)s. That day has passed."),
        "commitment ahead": _("You took something on with %(other)s. It is due on %(date)s."),
        "commitment today": _("You took something on with %(other)s. It is due today, %(date)s."),
        "commitment past": _("You took something on with %(other)s. It was due on %(date)s."),
        "commitment cue": _("You meant to begin with something you took on with %(other)s by %(date)s."),
        Kind.CHOICE: _(
            "Something you took on with %(other)s was carried twice. Keep it, change the date, hand it over"
            " or drop it?"
        ),
        Kind.OFFERED: _("%(other)s has noted something for you to take on. Will you?"),
        **_sentences_of_proposals(),
        Kind.THIRD_TIME: _("A topic on your list with %(other)s has gone unheard three times. Drop it?"),
        Kind.JOINED: _("%(other)s has joined."),
        Kind.PAUSED: _("Your one-on-ones with %(other)s are paused from %(date)s."),
        Kind.RESUMED: _("Your one-on-ones with %(other)s are no longer paused."),
        Kind.LINE_ENDED: _("The reporting line between you and %(other)s has ended."),
        Kind.FACTOR_TAKEN: _("%(other)s, an administrator, has taken away your second factors."),
        Kind.FACTOR_RESET: _("You have taken away the second factors of %(other)s."),
        Kind.NEW_PASSWORD: _("Your password was set with a link from %(other)s."),
    }


def _sentences_of_proposals() -> dict[str, str]:
    """What is asked, and what was answered, by the kind of the proposal."""
    return {
        "proposal": _("%(other)s has made a proposal and waits for your answer."),
        "proposal interval": _("%(other)s proposes another interval and waits for your answer."),
        "proposal time": _("%(other)s proposes another time instead of %(when)s and waits for your answer."),
        "proposal extra": _("%(other)s proposes an extra one-on-one and waits for your answer."),
        "proposal late_topic": _("%(other)s asks for room for a late topic on %(when)s."),
        "proposal hand_over": _("%(other)s asks you to take over something they took on."),
        "agreed": _("%(other)s has agreed to what you proposed."),
        "agreed interval": _("%(other)s has agreed to the interval that you proposed."),
        "agreed late_topic": _("%(other)s has agreed: your late topic has a place on %(when)s."),
        "agreed hand_over": _("%(other)s has taken over what you offered."),
        "declined": _("%(other)s has declined the time that you proposed."),
        "declined interval": _("%(other)s has declined the interval that you proposed."),
        "declined time": _("%(other)s has declined another time. You still meet on %(when)s."),
        "declined extra": _("%(other)s has declined the extra one-on-one that you proposed."),
        "declined late_topic": _("%(other)s has declined: your late topic has no place on %(when)s."),
        "declined hand_over": _("%(other)s has not taken over what you offered. It stays yours."),
    }


def when(instant: dt.datetime | None, reader: Person) -> str:
    """Day and time by the reader's clocks, with the name of their zone."""
    if instant is None:
        return ""
    local = instant.astimezone(ZoneInfo(reader.zone))
    return f"{date_format(local, _('l j F Y, H:i'))} ({reader.zone})"


def plain(text: str) -> str:
    """A name as one short run of ordinary characters: no line breaks, nothing that turns the text around."""
    return " ".join(
        "".join(character if unicodedata.category(character)[0] != "C" else " " for character in text).split()
    )
