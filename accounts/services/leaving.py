"""Accounts closed, opened again, and blanked for good."""

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
    """Sign the person out everywhere, or everywhere ``but`` in the session of this key; gives how many."""
    return Session.objects.filter(person=person).exclude(pk=hash_of_key(but)).delete()[0]


@transaction.atomic
def end_session(*, person: Person, key_hash: str) -> bool:
    """Sign the person out in one place; False when no session of theirs has a key of this hash."""
    return bool(Session.objects.filter(person=person, pk=key_hash).delete()[0])


@transaction.atomic
def switch_off(*, person: Person) -> bool:
    """Let the person sign in no more, and end what is open; False when that was so already."""
    changed = Person.objects.filter(pk=person.pk, is_active=True).update(is_active=False)
    end_sessions(person=person)
    person.refresh_from_db()
    return bool(changed)


@transaction.atomic
def switch_on(*, person: Person) -> bool:
    """Let the person sign in again; False for one who could, and for one who was erased."""
    changed = Person.objects.filter(pk=person.pk, is_active=False, erased_at__isnull=True).update(
        is_active=True
    )
    person.refresh_from_db()
    return bool(changed)


@transaction.atomic
def remove_second_factors(*, person: Person) -> int:
    """Take away all second factors and recovery codes, and sign out everywhere; the number of factors."""
    factors = Authenticator.objects.filter(user=person)
    number = factors.exclude(type=Authenticator.Type.RECOVERY_CODES).count()
    factors.delete()
    end_sessions(person=person)
    return number


def addresses_of(person: Person) -> set[str]:
    """Every address that is or was the person's, as far as it is still known."""
    own = EmailAddress.objects.filter(user=person).values_list("email", flat=True)
    accepted = Invitation.objects.filter(accepted_by=person).values_list("email", flat=True)
    return {addresses.normalise(email) for email in (person.email, *own, *accepted)}


@transaction.atomic
def forget_subjects(*, person: Person) -> None:
    """Forget who the person is at an OpenID Connect provider, also at one that is no longer configured.

    Its tables then have no model any more, and what they hold is still there.
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
    """Empty the row of everything that says who it was; it stays, because words and dates hang on its id.

    Ways in, sessions, days away and the invitations to the person's addresses are emptied with it, and their
    own open invitations are withdrawn.
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
