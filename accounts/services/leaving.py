"""Closing, reopening and blanking accounts."""

from __future__ import annotations

import datetime as dt

from allauth.account.models import EmailAddress
from allauth.mfa.models import Authenticator
from django.db import connection, transaction
from django.db.models import Q

from accounts import addresses
from accounts.models import DayAway, Invitation, Person, Session
from accounts.models.session import hash_of_key

# RFC 6761 section 6.4: names below ``invalid`` never exist, so nothing can be sent there.
NOWHERE = "erased.invalid"


@transaction.atomic
def end_sessions(*, person: Person, but: str = "") -> int:
    """End all sessions of the person, except the one with the key ``but``. Returns their number."""
    return Session.objects.filter(person=person).exclude(pk=hash_of_key(but)).delete()[0]


@transaction.atomic
def end_session(*, person: Person, key_hash: str) -> bool:
    """End the person's session with this key hash. Returns False if there is none."""
    return bool(Session.objects.filter(person=person, pk=key_hash).delete()[0])


@transaction.atomic
def switch_off(*, person: Person) -> bool:
    """Deactivate the account and end its sessions. Returns False if it was inactive."""
    changed = Person.objects.filter(pk=person.pk, is_active=True).update(is_active=False)
    end_sessions(person=person)
    person.refresh_from_db()
    return bool(changed)


@transaction.atomic
def switch_on(*, person: Person) -> bool:
    """Activate the account. Returns False if it was active or the person was erased."""
    changed = Person.objects.filter(pk=person.pk, is_active=False, erased_at__isnull=True).update(
        is_active=True
    )
    person.refresh_from_db()
    return bool(changed)


@transaction.atomic
def remove_second_factors(*, person: Person) -> int:
    """Remove all second factors and recovery codes and end all sessions. Returns the number of factors."""
    factors = Authenticator.objects.filter(user=person)
    number = factors.exclude(type=Authenticator.Type.RECOVERY_CODES).count()
    factors.delete()
    end_sessions(person=person)
    return number


def addresses_of(person: Person) -> set[str]:
    """Return every known present or former address of the person."""
    own = EmailAddress.objects.filter(user=person).values_list("email", flat=True)
    accepted = Invitation.objects.filter(accepted_by=person).values_list("email", flat=True)
    return {addresses.normalise(email) for email in (person.email, *own, *accepted)}


@transaction.atomic
def forget_subjects(*, person: Person) -> None:
    """Forget who the person is at an OpenID Connect provider, also at one that is no longer configured.

    Its tables then have no models, but they still hold rows.
    """
    mine = [Person._meta.pk.get_db_prep_value(person.pk, connection)]
    with connection.cursor() as cursor:
        there = connection.introspection.table_names(cursor)
        if "socialaccount_socialtoken" in there:
            cursor.execute(
                "DELETE FROM socialaccount_socialtoken WHERE account_id IN"
                " (SELECT id FROM socialaccount_socialaccount WHERE user_id = %s)",
                mine,
            )
        if "socialaccount_socialaccount" in there:
            cursor.execute("DELETE FROM socialaccount_socialaccount WHERE user_id = %s", mine)


@transaction.atomic
def blank(*, person: Person, now: dt.datetime) -> None:
    """Blank everything in the row that identifies the person. The row stays, because other rows refer to its
    id.

    Sign-in methods, sessions, days away and invitations to the person's addresses are cleared too, and their
    own open invitations are revoked.
    """
    known = addresses_of(person)
    remove_second_factors(person=person)
    EmailAddress.objects.filter(user=person).delete()
    forget_subjects(person=person)
    DayAway.objects.filter(person=person).delete()
    Invitation.objects.filter(Q(email__in=known) | Q(invited_by=person)).filter(
        accepted_at__isnull=True, revoked_at__isnull=True
    ).update(revoked_at=now)
    nowhere = f"{person.pk}@{NOWHERE}"
    Invitation.objects.filter(Q(email__in=known) | Q(accepted_by=person)).update(email=nowhere, name="")
    plain = Person(email=nowhere, date_joined=person.date_joined)
    kept = {"id", "date_joined", "is_demo", "password", "erased_at"}
    for field in Person._meta.concrete_fields:
        if field.name not in kept:
            setattr(person, field.name, getattr(plain, field.name))
    person.zone, person.is_active, person.wants_mail, person.erased_at = "UTC", False, False, now
    person.set_unusable_password()
    person.save()
    person.groups.clear()
    person.user_permissions.clear()
