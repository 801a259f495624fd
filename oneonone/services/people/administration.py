"""The acts of administrators on accounts and on the server.

Each is written to the audit trail, without user text.
"""

from __future__ import annotations

import datetime as dt

from django.db import IntegrityError, transaction
from django.db.models import Exists, F, OuterRef, Q
from django.utils.translation import gettext as _

from accounts.models import Person
from accounts.services import leaving
from oneonone.models import ClosingDay, LegalHold, Line, Meeting, Notice, Organisation
from oneonone.services import audit
from oneonone.services.meetings import coming_meetings
from oneonone.services.notices import mails, notices
from oneonone.services.refusals import NotAllowed, NotNow, NotYourself, OutOfRange, PastDate, Stale

FURTHEST = dt.timedelta(days=3 * 366)
ONE_DAY = dt.timedelta(days=1)


def _check(person: Person, actor: Person) -> None:
    """Refuse actors who are not administrators, and acts of administrators on themselves."""
    if not actor.is_administrator:
        raise NotAllowed
    if person.pk == actor.pk:
        raise NotYourself
    if person.erased_at is not None:
        raise NotNow


@transaction.atomic
def deactivate(*, person: Person, actor: Person, now: dt.datetime) -> Person:
    """Close an account and end its sessions. Its lines do not change."""
    _check(person, actor)
    if leaving.switch_off(person=person):
        audit.note(actor=actor, act="account closed", now=now, person=person)
    return person


@transaction.atomic
def reactivate(*, person: Person, actor: Person, now: dt.datetime) -> Person:
    """Reopen a closed account. The person signs in with the same password and factors as before."""
    _check(person, actor)
    if leaving.switch_on(person=person):
        audit.note(actor=actor, act="account opened again", now=now, person=person)
    return person


@transaction.atomic
def reset_second_factor(*, person: Person, actor: Person, now: dt.datetime) -> int:
    """Remove the second factors of a person who has lost them. Both people are told in the app and by mail.

    Signing in still needs the password or the mailbox. All sessions of the person end. Refused: one's own,
    and when there is none.
    """
    _check(person, actor)
    removed = leaving.remove_second_factors(person=person)
    if not removed:
        raise NotNow(accepted=_("This account has no second factor."))
    audit.note(actor=actor, act="second factor reset", now=now, person=person, facts={"factors": removed})
    subject = _("Second factor removed")
    told = {
        person: _(
            "An administrator, %(actor)s, has removed the second factors of your account. You are signed out "
            "everywhere. Add a new one when you sign in. If you did not ask for this, tell"
            " another administrator."
        )
        % {"actor": actor.name},
        actor: _(
            "You have removed the second factors of %(person)s's account. If it was not you, somebody else"
            " acts in your name: change your password and tell another administrator."
        )
        % {"person": person.name},
    }
    for reader, body in told.items():
        mails.owe_account_mail(to_address=reader.email, person=reader, subject=subject, body=body, now=now)
    for reader, kind, about in (
        (person, Notice.Kind.FACTOR_TAKEN, actor),
        (actor, Notice.Kind.FACTOR_RESET, person),
    ):
        notices.owe(
            kind=kind,
            person=reader,
            subject=person.pk,
            about=about,
            occurrence=now.isoformat(),
            mailed=True,
            now=now,
        )
    return removed


@transaction.atomic
def place_hold(*, person: Person, actor: Person, now: dt.datetime) -> LegalHold:
    """Place a legal hold: the person cannot be erased until it is lifted. No reason is stored."""
    if not actor.is_administrator:
        raise NotAllowed
    if person.erased_at is not None:
        raise NotNow
    hold, made = LegalHold.objects.get_or_create(
        person=person, lifted_at=None, defaults={"since": now, "placed_by": actor}
    )
    if made:
        audit.note(actor=actor, act="legal hold placed", now=now, person=person)
    return hold


@transaction.atomic
def lift_hold(*, person: Person, actor: Person, now: dt.datetime) -> None:
    """Allow erasing again. Lifted twice, the first time stays. Refused: one that is on oneself."""
    if not actor.is_administrator:
        raise NotAllowed
    if person.pk == actor.pk:
        raise NotYourself
    if LegalHold.objects.filter(person=person, lifted_at__isnull=True).update(lifted_at=now):
        audit.note(actor=actor, act="legal hold lifted", now=now, person=person)


@transaction.atomic
def change_settings(
    *,
    organisation: Organisation,
    second_factor_for: str,
    lead_needs_confirmed_lines: bool,
    version: int,
    actor: Person,
    now: dt.datetime,
) -> list[str]:
    """Save the settings of the server. Returns the names of the changed ones.

    Refused: somebody who is no administrator, a choice that there is not, settings that changed since
    ``version`` was read.
    """
    if not actor.is_administrator:
        raise NotAllowed
    if second_factor_for not in Organisation.SecondFactorFor.values:
        raise OutOfRange(field="second_factor_for", accepted=_("One of the three."))
    wanted: dict[str, str | int | bool | None] = {
        "second_factor_for": second_factor_for,
        "lead_needs_confirmed_lines": lead_needs_confirmed_lines,
    }
    changed = {name: value for name, value in wanted.items() if getattr(organisation, name) != value}
    kept = Organisation.objects.filter(pk=organisation.pk, version=version)
    if not kept.update(**wanted, version=F("version") + 1):
        organisation.refresh_from_db()
        raise Stale(theirs={}, version=organisation.version)
    organisation.refresh_from_db()
    if changed:
        audit.note(actor=actor, act="settings changed", now=now, facts=changed)
    return list(changed)


@transaction.atomic
def add_closing_day(*, day: dt.date, actor: Person, now: dt.datetime, today: dt.date) -> ClosingDay:
    """Add a closing day. Unconfirmed meetings on it move.

    Refused: a day that has passed or is more than three years ahead, and one that is noted already.
    """
    if not actor.is_administrator:
        raise NotAllowed
    if day < today:
        raise PastDate(field="day", accepted=_("Today or later."))
    if day > today + FURTHEST:
        raise OutOfRange(field="day", accepted=_("A day within the next three years."))
    row = ClosingDay(day=day)
    try:
        with transaction.atomic():
            row.save(force_insert=True)
    except IntegrityError:
        raise OutOfRange(field="day", accepted=_("A day that is not on the list yet.")) from None
    _closing_day_changed(day, now)
    audit.note(actor=actor, act="closing day added", now=now, facts={"day": day.isoformat()})
    return row


@transaction.atomic
def remove_closing_day(*, closing_day: ClosingDay, actor: Person, now: dt.datetime) -> None:
    """Take a closing day back."""
    if not actor.is_administrator:
        raise NotAllowed
    if ClosingDay.objects.filter(pk=closing_day.pk).delete()[0]:
        _closing_day_changed(closing_day.day, now)
        facts: dict[str, str | int | bool | None] = {"day": closing_day.day.isoformat()}
        audit.note(actor=actor, act="closing day removed", now=now, facts=facts)


def _closing_day_changed(day: dt.date, now: dt.datetime) -> None:
    """Recompute the dates of lines whose coming meeting has a step that is counted across that day."""
    midnight = dt.datetime.combine(day, dt.time(), tzinfo=dt.UTC)
    # The day of a zone can begin or end up to a day from the same date in UTC.
    until = midnight + 2 * ONE_DAY
    # Steps that have been taken stand still, wherever the meeting is moved.
    begun = Q(invite_at__lt=until) | Q(issue_at__lt=until) | Q(prepare_by_at__lt=until)
    near = Meeting.objects.coming().filter(begun, line=OuterRef("pk"), record_at__gt=midnight - ONE_DAY)
    for line in Line.objects.open().filter(Exists(near)).select_related("manager", "report"):
        coming_meetings.refresh(line=line, now=now)
