"""What an administrator sees: people, who reports to whom, invitations, and whether the jobs are well.

Nothing here could hold a topic, a note or a date of a meeting.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from allauth.mfa.models import Authenticator
from django.db.models import Q, QuerySet

from accounts.models import Person, Session
from oneonone.models import LegalHold, Line, Mail, Side


def people(reader: Person, *, words: str = "") -> QuerySet[Person]:
    """Everybody with an account, by name; with ``words``, those whose name or address holds them."""
    everybody: QuerySet[Person] = QuerySet(Person)
    if not reader.is_administrator:
        return everybody.none()
    found = everybody.filter(erased_at__isnull=True)
    if words:
        found = found.filter(Q(name__icontains=words) | Q(email__icontains=words))
    return found.order_by("-is_active", "name", "id")


@dataclass(frozen=True)
class LineAsKept:
    """A reporting line as an administrator keeps it: who, since when, joined or invited, confirmed or not."""

    line: Line
    manager: str
    report: str
    waits_for: str
    expired: bool


def lines(reader: Person, *, now: dt.datetime, words: str = "") -> QuerySet[Line]:
    """Open lines but the *alone* ones, nobody's business; with ``words``, those with such a name."""
    if not reader.is_administrator:
        return Line.objects.none()
    found = Line.objects.open().exclude(start=Line.Start.ALONE)
    if words:
        found = found.filter(
            Q(manager__name__icontains=words)
            | Q(report__name__icontains=words)
            | Q(manager_name__icontains=words)
            | Q(report_name__icontains=words)
        )
    return found.select_related("manager", "report", "invitation").order_by(
        "manager__name", "report__name", "report_name", "id"
    )


def as_kept(line: Line, *, now: dt.datetime) -> LineAsKept:
    """One row of the administrator's list."""
    invitation = line.invitation if line.start == Line.Start.INVITED else None
    return LineAsKept(
        line=line,
        manager=line.name_on(Side.MANAGER),
        report=line.name_on(Side.REPORT),
        waits_for=invitation.email if invitation is not None else "",
        expired=invitation is not None and invitation.expires_at <= now,
    )


@dataclass(frozen=True)
class Account:
    """One account as an administrator sees it. ``open_lines`` leaves out what is nobody's business."""

    person: Person
    is_you: bool
    second_factors: int
    places: int
    open_lines: int
    on_hold: bool


def account(reader: Person, person: Person, *, now: dt.datetime) -> Account | None:
    """One account, for an administrator. ``now`` is by the machine's clock, which sessions run out by."""
    if not reader.is_administrator:
        return None
    factors = Authenticator.objects.filter(user=person).exclude(type=Authenticator.Type.RECOVERY_CODES)
    return Account(
        person=person,
        is_you=person.pk == reader.pk,
        second_factors=factors.count(),
        places=Session.objects.open_at(now).filter(person=person).count(),
        open_lines=Line.objects.open().with_side(person).exclude(start=Line.Start.ALONE).count(),
        on_hold=LegalHold.objects.filter(person=person, lifted_at__isnull=True).exists(),
    )


def mails_to_look_at(reader: Person) -> QuerySet[Mail]:
    """Mails that failed or that nobody knows to have arrived, and nobody has looked at; newest first.

    For an administrator. What they said is gone from them by then; what they were about is not told.
    """
    if not reader.is_administrator:
        return Mail.objects.none()
    return (
        Mail.objects.filter(state__in=(Mail.State.FAILED, Mail.State.UNKNOWN), looked_at__isnull=True)
        .select_related("person")
        .defer("subject", "body")
        .order_by("-not_before", "id")
    )
