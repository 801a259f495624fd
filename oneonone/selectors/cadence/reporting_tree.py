"""Who leads whom: the lines below a lead, directly or further down."""

from __future__ import annotations

from uuid import UUID

from django.db import connection
from django.db.models import Exists, OuterRef

from accounts.models import Person
from oneonone.models import Line, Organisation

# A line counts once however many ways lead to it, and UNION ends the walk should a circle ever be there.
# One's own lines open the way down as they are; those further down only once an administrator has confirmed
# them, if the organisation wants it so.
_OWN = """
SELECT id AS line_id, report_id FROM {line} WHERE manager_id = %s AND ended_at IS NULL AND start <> 'alone'
"""
_BELOW = """
WITH RECURSIVE below(line_id, report_id) AS (
    {own}
  UNION
    SELECT line.id, line.report_id FROM below
    JOIN {line} AS line ON line.manager_id = below.report_id
    WHERE line.ended_at IS NULL AND line.start <> 'alone'
      AND (%s = 0 OR line.tree_confirmed_at IS NOT NULL)
)
SELECT line_id FROM below
"""


def needs_confirmed_lines() -> bool:
    """Whether leads further up see a line only once it is confirmed: yes, unless the organisation says no."""
    setting = Organisation.objects.values_list("lead_needs_confirmed_lines", flat=True).first()
    return setting is not False


def query(lead: Person, *, everyone: bool = True) -> tuple[str, list[UUID | str | int]]:
    """SQL that selects as ``line_id`` the open lines ``lead`` manages, and its parameters.

    With ``everyone`` also those reachable from them.
    """
    pk = lead.pk if connection.vendor == "postgresql" else lead.pk.hex
    table = connection.ops.quote_name(Line._meta.db_table)
    if not everyone:
        return _OWN.format(line=table), [pk]
    return _BELOW.format(own=_OWN.format(line=table), line=table), [pk, int(needs_confirmed_lines())]


def line_ids_below(lead: Person) -> list[UUID]:
    """The ids of the open lines that ``lead`` manages or that are reachable from them, in one query."""
    sql, parameters = query(lead)
    with connection.cursor() as cursor:
        cursor.execute(sql, parameters)
        return [row[0] if isinstance(row[0], UUID) else UUID(row[0]) for row in cursor.fetchall()]


def has_more_below(lead: Person) -> bool:
    """Whether a report of ``lead`` manages somebody whose line ``lead`` may see."""
    own = Line.objects.open().exclude(start=Line.Start.ALONE)
    further = own.filter(manager=OuterRef("report"))
    if needs_confirmed_lines():
        further = further.filter(tree_confirmed_at__isnull=False)
    return own.filter(Exists(further), manager=lead).exists()


def leads(person: Person) -> bool:
    """Whether somebody reports to this person."""
    return Line.objects.open().filter(manager=person).exclude(start=Line.Start.ALONE).exists()
