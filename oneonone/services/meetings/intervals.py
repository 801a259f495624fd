"""How often, on which day, and for how long the two of a line meet."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict, dataclass, replace
from fractions import Fraction

from django.core.exceptions import ValidationError
from django.core.validators import URLValidator
from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from accounts.models import Person
from oneonone import cadence
from oneonone.models import Interval, Line, Proposal, Side
from oneonone.models.owed import Notice
from oneonone.services.meetings import coming_meetings
from oneonone.services.notices import notices, proposals
from oneonone.services.refusals import NotNow, OutOfRange
from oneonone.services.text_limits import one_line

SHORTEST, LONGEST = 10, 240
_ACCEPTED_DAY = {
    "unit": gettext_lazy("Weeks or months."),
    "every": gettext_lazy("From 1 to 52 weeks, or from 1 to 12 months."),
    "anchor": gettext_lazy("A date between 1900 and 2199."),
    "weekday": gettext_lazy("A day of the week; in months together with which one of the month."),
    "ordinal": gettext_lazy("The first to fourth or the last; the fifth only in every month."),
    "day": gettext_lazy("One of: a weekday of the month, a day from 1 to 31, the last working day."),
    "second_day": gettext_lazy(
        "A day from 1 to 31, in every month, at least a week from the other all year round."
    ),
    "last_working_day": gettext_lazy("Only with an interval in months."),
}


@dataclass(frozen=True)
class Terms:
    """What two people agree on. ``minutes`` is a meeting's length, ``anchor`` a first date of the grid."""

    every: int
    unit: str
    anchor: dt.date
    time: dt.time
    minutes: int
    zone: str
    weekday: int | None = None
    ordinal: int | None = None
    day: int | None = None
    last_working_day: bool = False
    second_day: int | None = None
    place: str = ""
    call_link: str = ""


def checked(terms: Terms) -> Terms:
    """The terms as they may be stored.

    Refused, naming the field: fewer than 10 or more than 240 minutes, an unknown zone, an interval outside
    one week to twelve months, a day that makes no grid, a place or link that is too long or no web address.
    What the anchor alone says of the day is written out.
    """
    if not SHORTEST <= terms.minutes <= LONGEST:
        raise OutOfRange(
            field="minutes",
            accepted=_("From %(least)d to %(most)d minutes.") % {"least": SHORTEST, "most": LONGEST},
        )
    most = 52 if terms.unit == Interval.Unit.WEEKS else 12
    if terms.unit not in Interval.Unit.values or not 1 <= terms.every <= most:
        raise OutOfRange(field="every", accepted=_("From 1 to 52 weeks, or from 1 to 12 months."))
    try:
        cadence.check_zone(terms.zone)
    except cadence.UnknownZone:
        raise OutOfRange(
            field="zone", accepted=_("A time zone by its IANA name, such as Europe/London.")
        ) from None
    place = one_line(terms.place, field="place", most=200, required=False)
    link = one_line(terms.call_link, field="call_link", most=500, required=False)
    if link:
        try:
            URLValidator(schemes=["https", "http"])(link)
        except ValidationError:
            raise OutOfRange(
                field="call_link", accepted=_("A web address that starts with https://.")
            ) from None
    return replace(_with_day(terms), place=place, call_link=link)


def _with_day(terms: Terms) -> Terms:
    """The terms with their day spelt out, and refused when no grid of dates follows from them."""
    if terms.unit == Interval.Unit.WEEKS:
        terms = replace(terms, weekday=terms.weekday or terms.anchor.isoweekday())
    elif terms.weekday is None and not terms.last_working_day:
        terms = replace(terms, day=terms.day or terms.anchor.day)
    try:
        rule_of(terms)
    except cadence.InvalidRule as refused:
        raise OutOfRange(field=refused.field, accepted=_ACCEPTED_DAY[refused.field]) from None
    return terms


def rule_of(terms: Terms) -> cadence.Rule:
    """The grid of dates that terms stand for."""
    return cadence.Rule(
        every=terms.every,
        unit="weeks" if terms.unit == Interval.Unit.WEEKS else "months",
        anchor=terms.anchor,
        weekday=terms.weekday,
        ordinal=terms.ordinal,
        day=terms.day,
        last_working_day=terms.last_working_day,
        second_day=terms.second_day,
    )


def minutes_a_week(terms: Terms) -> Fraction:
    """What meetings on these terms would take of each of the two, on average. Refused as in ``checked``."""
    terms = checked(terms)
    return cadence.minutes_a_week(rule_of(terms), terms.minutes)


def add_first(*, line: Line, terms: Terms, actor: Person, now: dt.datetime) -> Interval:
    """The interval a line begins with. It counts as agreed: the standing has no earlier one to follow."""
    return _add(
        line=line, terms=checked(terms), actor=actor, now=now, effective_from=line.starts_on, agreed_at=now
    )


def _add(
    *,
    line: Line,
    terms: Terms,
    actor: Person,
    now: dt.datetime,
    effective_from: dt.date,
    agreed_at: dt.datetime | None,
) -> Interval:
    interval = Interval(
        line=line,
        effective_from=effective_from,
        proposed_by=actor,
        proposed_at=now,
        agreed_at=agreed_at,
        **asdict(terms),
    )
    # The database checks the constraints. Checking them here costs a query each.
    interval.full_clean(exclude=["line", "proposed_by"], validate_unique=False, validate_constraints=False)
    interval.save(force_insert=True)
    return interval


@transaction.atomic
def propose(*, line: Line, terms: Terms, actor: Person, now: dt.datetime, today: dt.date) -> Proposal:
    """Ask the other side for another interval.

    The manager's proposal moves the dates at once; the standing follows the last interval both agreed. The
    report's moves them when the manager accepts. The coming meeting takes the first date with it, unless
    somebody has confirmed another. An earlier proposal that still waits ends: one's own is withdrawn, and
    one of the other side is answered with a no.
    """
    terms = checked(terms)
    if not line.is_open:
        raise NotNow
    side = line.side_for(actor)
    _end_earlier(line, actor=actor, now=now)
    interval = None
    if side is Side.MANAGER:
        alone = line.report_id is None
        interval = _add(
            line=line,
            terms=terms,
            actor=actor,
            now=now,
            effective_from=today,
            agreed_at=now if alone else None,
        )
    proposal = Proposal(
        line=line,
        kind=Proposal.Kind.INTERVAL,
        by=actor,
        side=side,
        interval=interval,
        payload=_as_json(terms),
        base_version=line.version,
        at=now,
        state=Proposal.State.ACCEPTED if interval and interval.agreed_at else Proposal.State.OPEN,
    )
    proposal.save(force_insert=True)
    if interval is not None:
        coming_meetings.follow_interval(line=line, actor=actor, now=now)
    other = line.person_on(side.other)
    if other is not None and proposal.state == Proposal.State.OPEN:
        notices.owe(
            kind=Notice.Kind.PROPOSAL,
            person=other,
            subject=proposal.pk,
            occurrence=proposal.kind,
            line=line,
            now=now,
        )
    return proposal


def _end_earlier(line: Line, *, actor: Person, now: dt.datetime) -> None:
    """End the earlier proposal: one's own is withdrawn, the other side's is declined."""
    for waiting in line.proposals.filter(kind=Proposal.Kind.INTERVAL, state=Proposal.State.OPEN):
        mine = waiting.by_id == actor.pk
        state = Proposal.State.WITHDRAWN if mine else Proposal.State.DECLINED
        proposals.end(proposal=waiting, state=state, by=actor, now=now, answered_otherwise=True)
        _undo(waiting, actor=actor, now=now)


@transaction.atomic
def answer(*, proposal: Proposal, accept: bool, actor: Person, now: dt.datetime, today: dt.date) -> Proposal:
    """Accept or decline a proposal. Declining the manager's proposal restores the earlier dates."""
    state = Proposal.State.ACCEPTED if accept else Proposal.State.DECLINED
    proposals.end(proposal=proposal, state=state, by=actor, now=now)
    if accept:
        if proposal.interval_id is not None:
            Interval.objects.filter(pk=proposal.interval_id).update(agreed_at=now)
        else:
            interval = _add(
                line=proposal.line,
                terms=_from_json(proposal.payload),
                actor=proposal.by,
                now=now,
                effective_from=today,
                agreed_at=now,
            )
            proposal.interval = interval
            proposal.save(update_fields=["interval"])
            coming_meetings.follow_interval(line=proposal.line, actor=actor, now=now)
    else:
        _undo(proposal, actor=actor, now=now)
    return proposal


def _undo(proposal: Proposal, *, actor: Person, now: dt.datetime) -> None:
    """End the interval of a proposal that was declined or withdrawn, and restore the dates before it."""
    interval, line = proposal.interval, proposal.line
    if interval is None or interval.agreed_at is not None:
        return
    Interval.objects.filter(pk=interval.pk, agreed_at__isnull=True).update(withdrawn_at=now)
    coming_meetings.leave_interval(line=line, interval=interval, now=now)
    coming_meetings.follow_interval(line=line, actor=actor, now=now)


def _as_json(terms: Terms) -> dict[str, str | int | bool | None]:
    words = asdict(terms)
    return {**words, "anchor": terms.anchor.isoformat(), "time": terms.time.isoformat()}


def _from_json(payload: dict[str, str | int | bool | None]) -> Terms:
    values = dict(payload)
    values["anchor"] = dt.date.fromisoformat(str(payload["anchor"]))  # type: ignore[assignment]
    values["time"] = dt.time.fromisoformat(str(payload["time"]))  # type: ignore[assignment]
    return Terms(**values)  # type: ignore[arg-type]
