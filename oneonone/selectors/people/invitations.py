"""The data of the invitation page: the inviter, the line, and how the reader can accept."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import Enum

from allauth.account.models import EmailAddress

from accounts.models import Invitation, Person
from oneonone.models import Line, Side
from oneonone.selectors.people import organisation


class Way(Enum):
    """How the reader of an invitation can go on."""

    OVER = "over"  # accepted, withdrawn or run out
    SIGNED_OUT = "signed_out"  # sign in or create an account; not disclosed which of them applies
    ACCEPT = "accept"  # the reader is signed in with the invited address
    SOMEBODY_ELSE = "somebody_else"  # the reader is signed in with another address


@dataclass(frozen=True)
class InvitationPage:
    """An invitation as its page shows it. ``side`` is the side offered; None when it is to no line."""

    invitation: Invitation
    organisation_name: str
    inviter: str
    side: Side | None
    starts_on: dt.date | None
    way: Way


def page(*, reader: Person | None, invitation: Invitation, now: dt.datetime) -> InvitationPage:
    """What to show to ``reader``, who holds the token; None for somebody not signed in."""
    line = Line.objects.open().filter(invitation=invitation).first()
    side = None if line is None else Side.REPORT if line.report_id is None else Side.MANAGER
    return InvitationPage(
        invitation=invitation,
        organisation_name=organisation.display_name(),
        inviter=invitation.invited_by.name,
        side=side,
        starts_on=line.starts_on if line else None,
        way=_way(reader, invitation, now),
    )


def _way(reader: Person | None, invitation: Invitation, now: dt.datetime) -> Way:
    if not invitation.is_open(now) or not invitation.invited_by.is_active:
        return Way.OVER
    if reader is None:
        # The inviter may have the link too, and must not learn from it who has an account.
        return Way.SIGNED_OUT
    mine = EmailAddress.objects.filter(user=reader, email=invitation.email, verified=True)
    return Way.ACCEPT if mine.exists() else Way.SOMEBODY_ELSE
