"""Between the head of an agenda and its order: what waits, what is offered, what is said of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from django.urls import reverse
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import pgettext

from oneonone.models import Meeting
from oneonone.selectors.agenda.agenda_page import Agenda
from oneonone.selectors.agenda.third_time import Asked
from oneonone.selectors.commitments.commitments import CommitmentView
from oneonone.web.notices.proposal_wording import WaitingRow

SHOWN = 2
"""So many rows stand open on the page; what is more opens with one press, so that the order is in sight."""


@dataclass(frozen=True)
class Act:
    """A button that posts one field to ``action``, or a link when ``is_link``."""

    label: str
    action: str
    name: str = ""
    value: str = ""
    is_link: bool = False
    is_quiet: bool = False


@dataclass(frozen=True)
class StripRow:
    """One thing: what kind it is in a word, the words, what a yes would do, and the buttons that answer."""

    kind: str
    words: str
    effect: str = ""
    acts: tuple[Act, ...] = ()


def rows(
    page: Agenda, waiting: Sequence[WaitingRow], third_time: Sequence[Asked], *, here: str, look_only: bool
) -> list[StripRow]:
    """What waits for the reader first, then what they can only know."""
    found = [
        *_state(page),
        *(_third(one) for one in third_time),
        *(_waiting(row) for row in waiting),
        *(_offered(page, one, here) for one in page.offered),
        *_not_joined(page),
    ]
    found.sort(key=lambda row: not row.acts)
    return [replace(row, acts=()) for row in found] if look_only else found


def _state(page: Agenda) -> Iterator[StripRow]:
    meeting, acts = page.head.meeting, []
    if page.next_id:
        acts.append(Act(_("Open the next one"), reverse("meeting", args=[page.next_id]), is_link=True))
    if meeting.state == Meeting.State.NOT_HELD and page.head.line.is_open:
        held = reverse("meeting-held", args=[meeting.pk])
        acts.append(Act(_("We did meet"), held, is_link=True, is_quiet=True))
    if meeting.state == Meeting.State.CALLED_OFF:
        words = _("This one-on-one is called off. Its topics and commitments have gone to the next one.")
        yield StripRow(_("Called off"), words, acts=tuple(acts))
    if meeting.state == Meeting.State.NOT_HELD:
        words = _("This one-on-one was not held. Its topics and commitments have gone to the next one.")
        yield StripRow(_("Not held"), words, acts=tuple(acts))
    if page.is_over:
        words = _("Its time has passed, and neither of you has started it here.")
        yield StripRow(_("Did you meet?"), words)


def _not_joined(page: Agenda) -> Iterator[StripRow]:
    if page.head.other_joined or not page.may_change:
        return
    words = _(
        "%(other)s has been invited and has not joined yet. What you write here is shared all the same;"
    )
    words = f"{words} {_('your margin is not.')}"
    yield StripRow(_("They see this when they join"), words % {"other": page.head.other})


def _third(one: Asked) -> StripRow:
    url = reverse("topic-third-time", args=[one.topic_id])
    drop = _("Let it go") if one.is_yours else _("Park it")
    effect = (
        _("Both of you are asked. It is yours, so letting it go withdraws it.")
        if one.is_yours
        else _(
            "Both of you are asked. It is not yours to withdraw: parked it stays on the list without asking"
            " for time."
        )
    )
    words = _("“%(title)s” was on three agendas and not reached. Drop it?") % {"title": one.title}
    acts = (Act(_("Keep it"), url, "drop", "0"), Act(drop, url, "drop", "1", is_quiet=True))
    return StripRow(_("Not reached three times"), words, effect, acts)


def _waiting(row: WaitingRow) -> StripRow:
    waiting, kind = row.waiting, _("Waits for an answer")
    if not waiting.by_you:
        url = reverse("proposal-answer", args=[waiting.id])
        acts = (Act(row.yes, url, "answer", "accept"), Act(row.no, url, "answer", "decline", is_quiet=True))
        return StripRow(kind, row.words, row.effect, acts)
    if not row.takes_back:
        return StripRow(kind, row.words)
    url = reverse("proposal-withdraw", args=[waiting.id])
    return StripRow(kind, row.words, acts=(Act(_("Take it back"), url, is_quiet=True),))


def _offered(page: Agenda, one: CommitmentView, here: str) -> StripRow:
    facts = {"other": page.head.other, "action": one.action, "day": _day(one.current_date)}
    if not one.is_mine:
        words = _("“%(action)s” waits for %(other)s to confirm it.")
        return StripRow(_("Offered, not yet taken on"), words % facts)
    words = _("%(other)s has written this down for you: “%(action)s”, by %(day)s.")
    date = f"{reverse('commitment-date', args=[one.id])}?next={here}"
    acts = (
        Act(_("I take it on"), reverse("commitment-confirm", args=[one.id])),
        Act(_("With another date"), date, is_link=True, is_quiet=True),
        Act(_("I do not"), reverse("commitment-decline", args=[one.id]), is_quiet=True),
    )
    return StripRow(_("Offered, not yet taken on"), words % facts, acts=acts)


def _day(day: dt.date) -> str:
    return date_format(day, pgettext("date format", "j F"))
