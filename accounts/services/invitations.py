"""Invitations: send, send again, revoke, accept. The token is returned once and stored only as a hash."""

from __future__ import annotations

import datetime as dt
import hashlib
import secrets

from allauth.account.models import EmailAddress
from django.db import transaction
from django.utils.translation import gettext_lazy as _

from accounts import names
from accounts.models import Invitation, Person
from accounts.refusals import Refusal
from accounts.services import people

# Covers a long weekend, and limits how long a link in a mailbox works. An invitation can be sent again or
# revoked at any time.
VALID_FOR = dt.timedelta(days=7)
TOKEN_BYTES = 32


class InvitationNotOpen(Refusal):
    """The invitation was accepted, revoked or has expired, or its sender no longer has an account."""

    text = _("This invitation can no longer be used.")
    accepted = _("Ask whoever invited you to send a new one.")


class NotYourAddress(Refusal):
    """The signed-in person has not verified the address of the invitation."""

    text = _("This invitation is for another e-mail address than yours.")
    accepted = _("Sign in with the address that was invited.")


def invite(*, email: str, name: str, invited_by: Person, now: dt.datetime) -> tuple[Invitation, str]:
    """Make an invitation bound to one address. The second value is the token, which is not stored.

    The result is the same whether or not the address has an account, so that inviting does not disclose it.
    Refused: an invalid address, a name without visible characters.
    """
    token = secrets.token_urlsafe(TOKEN_BYTES)
    invitation = Invitation(
        email=people.usable_address(email),
        name=names.clean(name),
        token_hash=hash_of(token),
        invited_by=invited_by,
        created_at=now,
        expires_at=now + VALID_FOR,
    )
    invitation.save(force_insert=True)
    return invitation, token


def hash_of(token: str) -> str:
    """Return the stored hash of a token. A fast hash is enough for 256 random bits."""
    return hashlib.sha256(token.encode()).hexdigest()


def by_token(token: str) -> Invitation | None:
    """Return the invitation of this token in any state, or None."""
    return Invitation.objects.select_related("invited_by").filter(token_hash=hash_of(token)).first()


@transaction.atomic
def resend(*, invitation: Invitation, now: dt.datetime) -> str:
    """Give the invitation a new token and a new term; the old link stops working. Returns the token.

    An expired invitation becomes valid again. Refused: an accepted or revoked one.
    """
    token = secrets.token_urlsafe(TOKEN_BYTES)
    changed = Invitation.objects.filter(
        pk=invitation.pk, accepted_at__isnull=True, revoked_at__isnull=True
    ).update(token_hash=hash_of(token), expires_at=now + VALID_FOR)
    if not changed:
        raise InvitationNotOpen
    invitation.refresh_from_db()
    return token


@transaction.atomic
def revoke(*, invitation: Invitation, now: dt.datetime) -> Invitation:
    """Revoke the invitation: its link stops working at once. Idempotent. Refused: an accepted one."""
    Invitation.objects.filter(pk=invitation.pk, accepted_at__isnull=True, revoked_at__isnull=True).update(
        revoked_at=now
    )
    invitation.refresh_from_db()
    if invitation.accepted_at is not None:
        raise InvitationNotOpen
    return invitation


@transaction.atomic
def accept(*, invitation: Invitation, person: Person, now: dt.datetime) -> Invitation:
    """Accept for somebody who has an account, and who has verified the address that was invited.

    A conditional update lets only one of two concurrent calls accept. Refused: another address, an
    invitation that is no longer open.
    """
    mine = EmailAddress.objects.filter(user=person, email=invitation.email, verified=True)
    if not person.is_active or not mine.exists():
        raise NotYourAddress
    changed = (
        Invitation.objects.open_at(now)
        .filter(pk=invitation.pk, token_hash=invitation.token_hash, invited_by__is_active=True)
        .update(accepted_at=now, accepted_by=person)
    )
    if not changed:
        raise InvitationNotOpen
    invitation.refresh_from_db()
    return invitation


@transaction.atomic
def accept_as_new(
    *, invitation: Invitation, name: str, password: str | None, zone: str, now: dt.datetime
) -> Person:
    """Create an account and accept for it, in one transaction. If the invitation is not open, there is no
    account.

    The token was sent to the address, so the address counts as verified. Without a mail server the inviter
    gives the link to the person and vouches for the address.
    """
    person = people.create_person(
        email=invitation.email, name=name, password=password, zone=zone, now=now, address_verified=True
    )
    accept(invitation=invitation, person=person, now=now)
    return person
