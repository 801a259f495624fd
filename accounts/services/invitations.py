"""Invitations: sent, sent again, withdrawn, accepted. The token is told once and kept only as a hash."""

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

# Long enough for a weekend with holidays at both ends, short enough for a link that lies in a mailbox. It can
# be sent again and withdrawn at any time.
VALID_FOR = dt.timedelta(days=7)
TOKEN_BYTES = 32


class InvitationNotOpen(Refusal):
    """Accepted already, withdrawn, run out, or its sender no longer has an account."""

    text = _("This invitation can no longer be used.")
    accepted = _("Ask whoever invited you to send a new one.")


class NotYourAddress(Refusal):
    """Whoever is signed in has not shown that the address of the invitation is theirs."""

    text = _("This invitation is for another e-mail address than yours.")
    accepted = _("Sign in with the address that was invited.")


def invite(*, email: str, name: str, invited_by: Person, now: dt.datetime) -> tuple[Invitation, str]:
    """Make an invitation bound to one address. The second value is the token, which is not stored.

    Whether the address has an account already makes no difference here, so that inviting tells nothing about
    it. Refused: an address that is none, a name that does not show.
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
    """What is stored of a token. A fast hash is enough for 256 random bits."""
    return hashlib.sha256(token.encode()).hexdigest()


def by_token(token: str) -> Invitation | None:
    """The invitation that this token belongs to, in whatever state it is."""
    return Invitation.objects.select_related("invited_by").filter(token_hash=hash_of(token)).first()


@transaction.atomic
def resend(*, invitation: Invitation, now: dt.datetime) -> str:
    """Give the invitation a new token and a new term; the old link stops working. Returns the token.

    One that has run out is opened again. Refused: one that was accepted or withdrawn.
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
    """Withdraw it: the link stops working at once. Twice changes nothing. Refused: one that was accepted."""
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

    Of two that accept at once only one does: the claim is a conditional update. Refused: another address, an
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
    """Make the account of somebody new and accept for them. The account exists only if the invitation was
    open.

    The token reached them through the address, so the address counts as verified. Where there is no mail
    server the inviter hands the link over and thereby vouches for the address.
    """
    person = people.create_person(
        email=invitation.email, name=name, password=password, zone=zone, now=now, address_verified=True
    )
    accept(invitation=invitation, person=person, now=now)
    return person
