"""What stands over the pages of one meeting: whose it is, when, and where its order stands."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext, pgettext

from oneonone.models import Meeting, Order, Side
from oneonone.selectors.agenda.agenda_page import Agenda, Head
from oneonone.selectors.agenda.frame import ARRIVE_MINUTES, MINUTES_A_COMMITMENT
from oneonone.selectors.agenda.order_view import OrderView
from oneonone.selectors.dates import line_calendar
from oneonone.web import wording

State = Meeting.State


def eyebrow(head: Head) -> str:
    """Both names, how often they meet, how many times they have, and where."""
    line = head.line
    said = [
        _("%(report)s with %(manager)s")
        % {"report": line.name_on(Side.REPORT), "manager": line.name_on(Side.MANAGER)}
    ]
    if head.interval is not None:
        said.append(wording.how_often(head.interval))
    elif head.meeting.is_extra:
        said.append(_("outside the interval"))
    said.append(_("one-on-one number %(n)d") % {"n": head.nth})
    if head.meeting.place:
        said.append(head.meeting.place)
    return " · ".join(said)


def title(head: Head, *, now: dt.datetime) -> str:
    """ "Thursday 3 December, 10:00 to 10:50", on the clocks of the zone it was agreed in.

    Once it has begun from when it really did, and once it is closed until when it really lasted. A meeting
    held without the page has a day alone.
    """
    meeting, zone = head.meeting, ZoneInfo(head.meeting.zone)
    if meeting.state == State.CLOSED and meeting.held_on is not None and meeting.ended_at is None:
        return _day(meeting.held_on, now)
    under_way = meeting.state == State.UNDER_WAY
    start = (meeting.began_at or meeting.starts_at).astimezone(zone)
    end = head.ends_at.astimezone(zone) if meeting.ended_at is None else meeting.ended_at.astimezone(zone)
    clock = pgettext("time format", "H:i")
    facts = {
        "day": _day(start.date(), now),
        "start": date_format(start, clock),
        "end": date_format(end, clock),
    }
    if end.date() != start.date() and not under_way:
        return _("%(day)s, from %(start)s") % facts
    return _("%(day)s, %(start)s to %(end)s") % facts


def _day(day: dt.date, now: dt.datetime) -> str:
    near = abs(day - now.date()) < dt.timedelta(days=300)
    return date_format(day, pgettext("date format", "l j F") if near else pgettext("date format", "l j F Y"))


def date_left(meeting: Meeting) -> str:
    """That the date of a meeting moved far ahead of it stands for another one; nothing for any other."""
    left = line_calendar.date_left(meeting)
    if left is None:
        return ""
    return _("The agreed date %(day)s stays: there is another one-on-one then.") % {
        "day": date_format(left, pgettext("date format", "l j F"))
    }


def moment(at: dt.datetime, meeting: Meeting) -> str:
    """A day and a clock time in the zone of a meeting."""
    return date_format(at.astimezone(ZoneInfo(meeting.zone)), pgettext("date and time format", "l j F, H:i"))


def order_state(page: Agenda, *, private: bool = True) -> str:
    """Where the order stands: when it will be issued, when it was, and what has changed since it was read.

    Without ``private`` nothing is said of whether it was read.
    """
    meeting, order = page.head.meeting, page.order
    if meeting.state == State.PLANNED:
        said = _("The order is issued automatically on %(when)s.") % {
            "when": moment(meeting.issue_at, meeting)
        }
        return f"{said} {_certainty(meeting)}".strip()
    if meeting.state not in (State.ISSUED, State.UNDER_WAY) or order.at is None:
        return ""
    return f"{_version(page)} {_since_read(page)}".strip() if private else _version(page)


def _certainty(meeting: Meeting) -> str:
    """A date that only the interval made is told apart from one that somebody confirmed."""
    return "" if meeting.confirmed_at else _("This date is expected; nobody has confirmed it yet.")


def _version(page: Agenda) -> str:
    order, meeting = page.order, page.head.meeting
    when = moment(order.at, meeting) if order.at else ""
    facts = {"when": when, "by": order.by}
    if order.number == 1 or order.cause in (Order.Cause.ISSUED, Order.Cause.STARTED):
        if not order.by:
            return _("Order issued %(when)s, automatically.") % facts
        if order.by_you:
            return _("Order issued %(when)s, by you.") % facts
        return _("Order issued %(when)s, by %(by)s.") % facts
    if order.cause == Order.Cause.REPLANNED and order.by:
        return (
            _("Put in order anew %(when)s, by you.")
            if order.by_you
            else _("Put in order anew %(when)s, by %(by)s.")
        ) % facts
    if order.by_you:
        return _("Order last changed %(when)s, by you.") % facts
    if order.by:
        return _("Order last changed %(when)s, by %(by)s.") % facts
    return _("Order last changed %(when)s.") % facts


def _since_read(page: Agenda) -> str:
    order = page.order
    if order.is_read:
        return _("Nothing changed since you read it.")
    if order.read is None:
        return _("You have not marked it as read yet.")
    if not order.changes:
        return _("Changed since you read it; the topics are in the same order, with the same minutes.")
    return ngettext(
        "One thing has changed since you read it.",
        "%(n)d things have changed since you read it.",
        order.changes,
    ) % {"n": order.changes}


def invitation(page: Agenda) -> str:
    """Who has asked for topics, or when both are asked automatically."""
    meeting = page.head.meeting
    both = page.head.other_joined
    if meeting.invited_at is None:
        asked = (
            _("Topics can be added now. Both of you are asked for them automatically on %(when)s.")
            if both
            else _("Topics can be added now. You are asked for them automatically on %(when)s.")
        )
        return asked % {"when": moment(meeting.invite_at, meeting)}
    by = meeting.invited_by
    if by is None:
        asked = (
            _("Both of you were asked for topics on %(when)s.")
            if both
            else _("You were asked for topics on %(when)s.")
        )
        return asked % {"when": moment(meeting.invited_at, meeting)}
    return _("%(name)s asked for topics on %(when)s.") % {
        "name": page.head.line.first_name_on(side) if (side := page.head.line.side_of(by)) else by.called,
        "when": moment(meeting.invited_at, meeting),
    }


def brings(page: Agenda, side: Side) -> str:
    """ "Ines brings 12 minutes", "you bring 21 minutes" or "you bring nothing yet"."""
    minutes, is_reader = page.brings[side.value], side is page.head.side
    if not minutes and page.may_change:
        without = [*(kept.topic for kept in page.order.kept), *page.order.late]
        if any(topic.side == side for topic in without):
            nothing = _("nothing you bring has a place")
            theirs = _("nothing %(other)s brings has a place")
        else:
            nothing, theirs = _("you bring nothing yet"), _("%(other)s brings nothing yet")
        return (nothing if is_reader else theirs) % {"other": page.head.other}
    if is_reader:
        return ngettext("you bring %(n)d minute", "you bring %(n)d minutes", minutes) % {"n": minutes}
    return ngettext("%(other)s brings %(n)d minute", "%(other)s brings %(n)d minutes", minutes) % {
        "n": minutes,
        "other": page.head.other,
    }


def opening(meeting: Meeting, order: OrderView, due_or_changed: int) -> str:
    """What the minutes of the opening are made of, where they are: a quarter of the time is the most."""
    if order.opening == ARRIVE_MINUTES + MINUTES_A_COMMITMENT * due_or_changed:
        return ngettext(
            "Four minutes to arrive, and two for one commitment that is due or has changed.",
            "Four minutes to arrive, and two for each of %(n)d commitments that are due or have changed.",
            due_or_changed,
        ) % {"n": due_or_changed}
    said = ngettext(
        "One commitment is due or has changed.",
        "%(n)d commitments are due or have changed.",
        due_or_changed,
    ) % {"n": due_or_changed}
    if order.opening == meeting.minutes // 4:
        return said + " " + _("The opening takes a quarter of the time at most.")
    return said + " " + _("The opening keeps the minutes that the order was made with.")


def margin_tab(head: Head) -> str:
    """From whom the reader's margin is hidden, short enough for a tab."""
    return _("Yours, not shown to %(other)s") % {"other": head.other}
