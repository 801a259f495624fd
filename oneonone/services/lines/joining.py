"""Accepting an invitation: the person and their side of the line, in one step or not at all."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db import transaction

from accounts.models import Invitation, Person
from accounts.services import invitations
from oneonone.models import Line
from oneonone.services import audit
from oneonone.services.lines import lines


@dataclass(frozen=True)
class Joined:
    """Who accepted, and the line they are on now; None when they were asked to the server and to no line."""

    person: Person
    line: Line | None


@transaction.atomic
def accept(*, invitation: Invitation, actor: Person, now: dt.datetime) -> Joined:
    """Accept for somebody who is signed in with the invited address, verified.

    Refused: another address, an invitation no longer open, a second open line for the pair, a circle. A
    refusal leaves the invitation as it was.
    """
    invitations.accept(invitation=invitation, person=actor, now=now)
    audit.note(actor=actor, act="invitation accepted", subject=invitation.pk, now=now)
    return Joined(actor, lines.join(invitation=invitation, person=actor, now=now))


@transaction.atomic
def accept_as_new(
    *, invitation: Invitation, name: str, password: str | None, zone: str, now: dt.datetime
) -> Joined:
    """Make the account of somebody new and accept for them; without a password they sign in by other means.

    Refused: what ``people.create_person`` refuses, and what ``accept`` refuses; then there is no account.
    """
    person = invitations.accept_as_new(
        invitation=invitation, name=name, password=password, zone=zone, now=now
    )
    audit.note(actor=person, act="account made", subject=invitation.pk, person=person, now=now)
    return Joined(person, lines.join(invitation=invitation, person=person, now=now))
