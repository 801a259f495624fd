"""What a notice says on the page, and where it leads. It names people and times, never what was written."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from oneonone.models import Notice
from oneonone.selectors.notices import NoticeView

Kind = Notice.Kind


def sentence(notice: NoticeView) -> str:
    """One sentence for the reader of the notice."""
    facts = {"other": notice.other, "when": _when(notice), "date": _date(notice)}
    return _templates()[_code(notice)] % facts


def _code(notice: NoticeView) -> str:
    return "cadence_over" if notice.kind == Kind.CADENCE and notice.is_over else str(notice.kind)


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
        "cadence_over": _("The interval with %(other)s ended on %(date)s without a one-on-one."),
        Kind.COMMITMENT: _("Something you took on with %(other)s is due on %(date)s."),
        Kind.CHOICE: _(
            "Something you took on with %(other)s was carried twice. Keep it, change the date, hand it over"
            " or drop it?"
        ),
        Kind.OFFERED: _("%(other)s has written down something for you to take on. Confirm it or decline."),
        Kind.PROPOSAL: _("%(other)s has proposed something that waits for your answer."),
        Kind.DECLINED: _("%(other)s has declined the time that you proposed. Nothing has changed."),
        Kind.THIRD_TIME: _("A topic with %(other)s was not reached three times. Keep it or let it go?"),
        Kind.JOINED: _("%(other)s has joined."),
        Kind.LINE_ENDED: _("The reporting line with %(other)s has ended."),
        Kind.FACTOR_TAKEN: _(
            "%(other)s, an administrator, has taken away your second factors. If you did not ask for it, tell"
            " another administrator."
        ),
        Kind.FACTOR_RESET: _(
            "You have taken away the second factors of %(other)s. If it was not you, change your password."
        ),
    }


def _when(notice: NoticeView) -> str:
    if notice.starts_at is None:
        return ""
    local = timezone.localtime(notice.starts_at, ZoneInfo(notice.zone))
    return date_format(local, _("l j F, H:i"))


def _date(notice: NoticeView) -> str:
    return date_format(notice.date, _("l j F")) if notice.date is not None else ""


def address(notice: NoticeView) -> str:
    """The page to act on. A line that the reader no longer sees leads to the page of all lines."""
    if notice.kind == Kind.RECORD and notice.meeting_id is not None:
        return reverse("record", args=[notice.meeting_id])
    if notice.kind == Kind.LEFT_OPEN and notice.meeting_id is not None:
        return reverse("meeting-live", args=[notice.meeting_id])
    if notice.kind == Kind.FACTOR_TAKEN:
        return reverse("mfa_index")
    if notice.kind == Kind.FACTOR_RESET:
        return reverse("account", args=[notice.subject])
    if notice.kind == Kind.LINE_ENDED:
        return reverse("lines")
    if notice.kind in (Kind.COMMITMENT, Kind.CHOICE):
        return reverse("next") + "#commitments"
    if notice.meeting_id is not None and notice.kind != Kind.UNANSWERED:
        return reverse("meeting", args=[notice.meeting_id])
    if notice.line_id is not None:
        return reverse("line", args=[notice.line_id])
    return reverse("next")
