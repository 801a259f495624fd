"""What a notice says on the page, and where it leads. It names people and times, never what was written."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from oneonone.models import Notice
from oneonone.selectors.notices.notices import NoticeView

Kind = Notice.Kind


def sentence(notice: NoticeView) -> str:
    """One sentence for the reader of the notice."""
    facts = {"other": notice.other, "when": _when(notice), "date": _date(notice)}
    return _templates()[notice.code] % facts


def _templates() -> dict[str, str]:
    return {
        Kind.INVITE: _("Topics are asked for: you meet %(other)s on %(when)s."),
        Kind.ISSUED: _("The order is issued for your one-on-one with %(other)s on %(when)s."),
        Kind.PREPARE: _("Today is the last day to prepare: you meet %(other)s on %(when)s."),
        Kind.TODAY: _("You meet %(other)s on %(when)s."),
        Kind.RECORD: _("Look at the record of your one-on-one with %(other)s."),
        Kind.MOVED: _("Your one-on-one with %(other)s is now on %(when)s."),
        Kind.EXTRA: _("An extra one-on-one with %(other)s is planned for %(when)s."),
        Kind.CLOCKS: _(
            "The rules of the clocks have changed. Your one-on-one with %(other)s keeps its time, %(when)s."
        ),
        Kind.CALLED_OFF: _("The one-on-one with %(other)s on %(when)s is called off. Nothing on it is lost."),
        Kind.UNANSWERED: _("Did you meet %(other)s on %(when)s?"),
        Kind.LEFT_OPEN: _("Your one-on-one with %(other)s is still under way. Close it when you are done."),
        Kind.CADENCE: _("The interval with %(other)s runs out on %(date)s."),
        "cadence over": _("The interval with %(other)s ended on %(date)s without a one-on-one."),
        "commitment ahead": _("Something you took on with %(other)s is due on %(date)s."),
        "commitment today": _("Something you took on with %(other)s is due today, %(date)s."),
        "commitment past": _("Something you took on with %(other)s was due on %(date)s."),
        "commitment cue": _("You meant to begin with something you took on with %(other)s by %(date)s."),
        Kind.CHOICE: _(
            "Something you took on with %(other)s was carried twice. Keep it, change the date, hand it over"
            " or drop it?"
        ),
        Kind.OFFERED: _("%(other)s has written down something for you to take on. Confirm it or decline."),
        **_of_proposals(),
        Kind.THIRD_TIME: _("A topic with %(other)s was not reached three times. Keep it or let it go?"),
        Kind.JOINED: _("%(other)s has joined."),
        Kind.PAUSED: _("Your one-on-ones with %(other)s are paused from %(date)s."),
        Kind.RESUMED: _("Your one-on-ones with %(other)s are no longer paused."),
        Kind.LINE_ENDED: _("The reporting line with %(other)s has ended."),
        Kind.FACTOR_TAKEN: _(
            "%(other)s, an administrator, has taken away your second factors. If you did not ask for it, tell"
            " another administrator."
        ),
        Kind.FACTOR_RESET: _(
            "You have taken away the second factors of %(other)s. If it was not you, change your password."
        ),
        Kind.NEW_PASSWORD: _(
            "Your password was set with a link that %(other)s, an administrator, made. If it was not you who"
            " set it, change it and tell another administrator."
        ),
        "new_password machine": _(
            "Your password was set with a link that was made on the server's machine. If it was not you who"
            " set it, change it and tell an administrator."
        ),
    }


def _of_proposals() -> dict[str, str]:
    """What is asked, and what was answered, by the kind of the proposal."""
    return {
        "proposal": _("%(other)s has proposed something that waits for your answer."),
        "proposal interval": _("%(other)s proposes another interval."),
        "proposal time": _("%(other)s proposes another time for your one-on-one on %(when)s."),
        "proposal extra": _("%(other)s proposes an extra one-on-one."),
        "proposal late_topic": _("%(other)s asks for room for a late topic on %(when)s."),
        "proposal hand_over": _("%(other)s asks you to take over something they took on."),
        "agreed": _("%(other)s has agreed to what you proposed."),
        "agreed interval": _("%(other)s has agreed to the interval that you proposed."),
        "agreed late_topic": _("%(other)s has agreed: your late topic has a place on %(when)s."),
        "agreed hand_over": _("%(other)s has taken over what you offered."),
        "declined": _("%(other)s has declined the time that you proposed. Nothing has changed."),
        "declined interval": _("%(other)s has declined the interval that you proposed."),
        "declined time": _("%(other)s has declined another time. Your one-on-one stays on %(when)s."),
        "declined extra": _("%(other)s has declined the extra one-on-one that you proposed."),
        "declined late_topic": _("%(other)s has declined: your late topic has no place on %(when)s."),
        "declined hand_over": _("%(other)s has not taken over what you offered. It stays yours."),
    }


def _when(notice: NoticeView) -> str:
    if notice.starts_at is None:
        return ""
    local = timezone.localtime(notice.starts_at, ZoneInfo(notice.zone))
    return date_format(local, _("l j F, H:i"))


def _date(notice: NoticeView) -> str:
    return date_format(notice.date, _("l j F")) if notice.date is not None else ""


PAGE_OF_MEETING: dict[str, str] = {
    Kind.RECORD: "record",
    Kind.PREPARE: "meeting-prepare",
    Kind.TODAY: "meeting-prepare",
    Kind.LEFT_OPEN: "meeting-live",
}


def address(notice: NoticeView) -> str:
    """The page to act on. A line that the reader no longer sees leads to the page of all lines."""
    if notice.kind in PAGE_OF_MEETING and notice.meeting_id is not None:
        return reverse(PAGE_OF_MEETING[notice.kind], args=[notice.meeting_id])
    if notice.kind == Kind.FACTOR_TAKEN:
        return reverse("mfa_index")
    if notice.kind == Kind.NEW_PASSWORD:
        return reverse("account_change_password")
    if notice.kind == Kind.FACTOR_RESET:
        return reverse("account", args=[notice.subject])
    if notice.kind == Kind.LINE_ENDED:
        return reverse("lines")
    if notice.kind in (Kind.COMMITMENT, Kind.CHOICE, Kind.OFFERED):
        return reverse("next") + "#commitments"
    if notice.meeting_id is not None and notice.kind != Kind.UNANSWERED:
        return reverse("meeting", args=[notice.meeting_id])
    if notice.line_id is not None:
        return reverse("line", args=[notice.line_id])
    return reverse("next")
