"""The people of the demo, the name of their company, and whom they can turn to."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.hashers import make_password

from accounts.models import Person
from accounts.services import people
from oneonone.models import Organisation
from oneonone.services.people import contacts

from .scenario import Days

# Known to everybody: these accounts exist in the demo only, and sign in nowhere else.
PASSWORD = "all aboard at alder quay"  # noqa: S105
JOINED = -370


def address_of(name: str) -> str:
    """An address under a domain that is reserved for examples and reaches nobody (RFC 2606)."""
    return f"{name.lower().replace(' ', '.')}@example.org"


def make(company: dict[str, Any], *, days: Days) -> dict[str, Person]:
    """Make the organisation and its people; the people by their key in the scenario."""
    joined = days.at(JOINED, 8)
    organisation = Organisation.objects.create(name=company["organisation"], is_demo=True, created_at=joined)
    cast = {}
    for row in company["person"]:
        cast[row["key"]] = people.create_person(
            email=address_of(row["name"]),
            name=row["name"],
            now=joined,
            zone=company["zone"],
            is_administrator=row.get("administrator", False),
            is_demo=True,
            address_verified=True,
        )
    _finish(cast, company["person"], days=days)
    contacts.change(
        organisation=organisation,
        entries=[contacts.Entry(row["kind"], row["name"], row["how"]) for row in company["contact"]],
        note=company["contacts_note"],
        version=organisation.version,
        actor=cast["nils"],
        now=joined,
    )
    return cast


def _finish(cast: dict[str, Person], rows: list[dict[str, Any]], *, days: Days) -> None:
    """Give each their working week, and all the one password: hashed once, for that is what takes time.

    Whoever meets on the day of the first start works on that weekday, also where it is at a weekend.
    """
    hashed = make_password(PASSWORD)
    for row in rows:
        person = cast[row["key"]]
        person.password = hashed
        person.working_week = row.get("week", person.working_week)
        if row.get("works_on_the_day"):
            person.working_week = _with(person.working_week, days.today.isoweekday())
    Person.objects.bulk_update(cast.values(), ["password", "working_week"])


def _with(week: str, weekday: int) -> str:
    """A working week with one more day in it (ISO 8601, Monday is 1)."""
    return f"{week[: weekday - 1]}1{week[weekday:]}"
