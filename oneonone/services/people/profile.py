"""What people change about themselves, and what follows from it for their lines."""

from __future__ import annotations

import datetime as dt

from django.db import transaction

from accounts.models import DayAway, Person
from accounts.services import people
from oneonone.selectors.dates import line_calendar
from oneonone.services import audit
from oneonone.services.meetings import coming_meetings

# What the dates of meetings, and the hours at which mail may go out, are computed from.
DATED = frozenset({"zone", "working_week", "country", "subdivision", "quiet_from", "quiet_to"})


@transaction.atomic
def change(*, actor: Person, profile: people.Profile, now: dt.datetime) -> list[str]:
    """Change the actor's own profile and return the names of the fields that changed.

    Meetings that nobody was invited to yet take the dates that follow; others keep their day. Refused as
    ``people.change_profile`` says.
    """
    changed = people.change_profile(person=actor, profile=profile)
    if DATED & set(changed):
        coming_meetings.refresh_lines_of(person=actor, now=now)
    if changed:
        facts: dict[str, str | int | bool | None] = {"fields": ", ".join(changed)}
        audit.note(actor=actor, act="profile changed", now=now, person=actor, facts=facts)
    return changed


@transaction.atomic
def add_days_away(*, actor: Person, first: dt.date, last: dt.date, now: dt.datetime) -> DayAway:
    """Note that the actor is away from ``first`` to ``last``; their loose meetings move out of the way.

    Not in the audit trail: when somebody is away is no business of whoever reads it.
    """
    today = line_calendar.local_day(now, actor.zone)
    days_away = people.add_days_away(person=actor, first=first, last=last, today=today)
    coming_meetings.refresh_lines_of(person=actor, now=now)
    return days_away


@transaction.atomic
def remove_days_away(*, actor: Person, days_away: DayAway, now: dt.datetime) -> None:
    """Take days away back."""
    people.remove_days_away(days_away=days_away)
    coming_meetings.refresh_lines_of(person=actor, now=now)
