"""The subject of a mail of notices: counts and dates. No names: it shows on locked screens."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from zoneinfo import ZoneInfo

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from accounts.models import Person
from oneonone.models import Notice
from oneonone.selectors.notices.notices import NoticeView

Kind = Notice.Kind
MOST_PARTS = 3
# In the order in which they are said; what waits for an answer first.
ANSWERS = (Kind.PROPOSAL, Kind.CHOICE, Kind.OFFERED, Kind.THIRD_TIME, Kind.UNANSWERED, Kind.LEFT_OPEN)


def of(notices: Sequence[NoticeView], reader: Person) -> str:
    """Up to three things with their number and the first of their days, and how many more there are."""
    parts: list[str] = []
    told = 0
    for kinds, say in _GROUPS:
        group = [notice for notice in notices if notice.kind in kinds]
        if group and len(parts) < MOST_PARTS:
            told += len(group)
            parts.append(say(len(group), _first_day(group, reader)))
    more = len(notices) - told
    if more:
        parts.append(ngettext("%(n)d other thing", "%(n)d other things", more) % {"n": more})
    said = ", ".join(parts)
    return said[:1].upper() + said[1:]


def _first_day(group: Sequence[NoticeView], reader: Person) -> str:
    days = [day for notice in group if (day := _day_of(notice, reader)) is not None]
    return date_format(min(days), _("j F")) if days else ""


def _day_of(notice: NoticeView, reader: Person) -> dt.date | None:
    if notice.date is not None:
        return notice.date
    if notice.starts_at is None:
        return None
    return notice.starts_at.astimezone(ZoneInfo(reader.zone)).date()


def _answers(n: int, day: str) -> str:
    return ngettext("%(n)d question waits for you", "%(n)d questions wait for you", n) % {"n": n}


def _today(n: int, day: str) -> str:
    return ngettext("one-on-one on %(day)s", "%(n)d one-on-ones from %(day)s", n) % {"n": n, "day": day}


def _moved(n: int, day: str) -> str:
    said = ngettext("a one-on-one is now on %(day)s", "%(n)d one-on-ones have a new time", n)
    return said % {"n": n, "day": day}


def _called_off(n: int, day: str) -> str:
    said = ngettext("the one-on-one on %(day)s is called off", "%(n)d one-on-ones are called off", n)
    return said % {"n": n, "day": day}


def _agendas(n: int, day: str) -> str:
    return ngettext("agenda for %(day)s", "%(n)d agendas, the first for %(day)s", n) % {"n": n, "day": day}


def _prepare(n: int, day: str) -> str:
    said = ngettext("last day to prepare for %(day)s", "last day to prepare for %(n)d one-on-ones", n)
    return said % {"n": n, "day": day}


def _topics(n: int, day: str) -> str:
    said = ngettext("topics for %(day)s", "topics for %(n)d one-on-ones, the first on %(day)s", n)
    return said % {"n": n, "day": day}


def _commitments(n: int, day: str) -> str:
    said = ngettext("commitment due on %(day)s", "%(n)d commitments, the first due on %(day)s", n)
    return said % {"n": n, "day": day}


def _records(n: int, day: str) -> str:
    return ngettext("record of %(day)s", "%(n)d records, the first of %(day)s", n) % {"n": n, "day": day}


def _interval(n: int, day: str) -> str:
    said = ngettext("nothing planned by %(day)s", "nothing planned on %(n)d lines, the first by %(day)s", n)
    return said % {"n": n, "day": day}


def _agreed(n: int, day: str) -> str:
    return ngettext("what you proposed is agreed", "%(n)d things you proposed are agreed", n) % {"n": n}


def _declined(n: int, day: str) -> str:
    return ngettext("what you proposed is declined", "%(n)d things you proposed are declined", n) % {"n": n}


def _paused(n: int, day: str) -> str:
    said = ngettext("one-on-ones paused from %(day)s", "%(n)d lines paused, the first from %(day)s", n)
    return said % {"n": n, "day": day}


def _resumed(n: int, day: str) -> str:
    said = ngettext("one-on-ones are no longer paused", "%(n)d lines are no longer paused", n)
    return said % {"n": n}


def _joined(n: int, day: str) -> str:
    said = ngettext("somebody you invited has joined", "%(n)d people you invited have joined", n)
    return said % {"n": n}


def _ended(n: int, day: str) -> str:
    return ngettext("a reporting line has ended", "%(n)d reporting lines have ended", n) % {"n": n}


def _new_password(n: int, day: str) -> str:
    return _("your password was set with a link")


def _factor_taken(n: int, day: str) -> str:
    return _("your second factors were taken away")


def _factor_reset(n: int, day: str) -> str:
    said = ngettext(
        "you took away somebody’s second factors", "you took away the second factors of %(n)d people", n
    )
    return said % {"n": n}


# What concerns the account's safety is said before anything else.
_GROUPS = (
    ((Kind.NEW_PASSWORD,), _new_password),
    ((Kind.FACTOR_TAKEN,), _factor_taken),
    ((Kind.FACTOR_RESET,), _factor_reset),
    (ANSWERS, _answers),
    ((Kind.TODAY,), _today),
    ((Kind.PREPARE,), _prepare),
    ((Kind.MOVED, Kind.EXTRA, Kind.CLOCKS), _moved),
    ((Kind.CALLED_OFF,), _called_off),
    ((Kind.ISSUED,), _agendas),
    ((Kind.INVITE,), _topics),
    ((Kind.COMMITMENT,), _commitments),
    ((Kind.RECORD,), _records),
    ((Kind.CADENCE,), _interval),
    ((Kind.AGREED,), _agreed),
    ((Kind.DECLINED,), _declined),
    ((Kind.PAUSED,), _paused),
    ((Kind.RESUMED,), _resumed),
    ((Kind.LINE_ENDED,), _ended),
    ((Kind.JOINED,), _joined),
)
