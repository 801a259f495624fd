"""Who leads whom: the lines below a lead, directly or further down."""

from __future__ import annotations

from uuid import UUID

from django.db import connection

from accounts.models import Person
from oneonone.models import Line, Organisation

# A line counts once however many ways lead to it, and UNION ends the walk should a circle ever be there.
# One's own lines open the way down as they are; those further down only once an administrator has confirmed
# them, if the organisation wants it so.
_BELOW = """
WITH RECURSIVE below(line_id, report_id) AS (
    SELECT id, report_id FROM {line}
    WHERE manager_id = %s AND ended_at IS NULL AND start <> 'alone'
  UNION
    SELECT line.id, line.report_id FROM below
    JOIN {line} AS line ON line.manager_id = below.report_id
    WHERE line.ended_at IS NULL AND line.start <> 'alone'
      AND (%s = 0 OR line.tree_confirmed_at IS NOT NULL)
)
SELECT DISTINCT line_id FROM below
"""


def needs_confirmed_lines() -> bool:
    """Whether leads further up see a line only once it is confirmed: yes, unless the organisation says no."""
    setting = Organisation.objects.values_list("lead_needs_confirmed_lines", flat=True).first()
    return setting is not False


def line_ids_below(lead: Person) -> list[UUID]:
    """The ids of the open lines that ``lead`` manages or that are reachable from them, in one query."""
    pk = lead.pk if connection.vendor == "postgresql" else lead.pk.hex
    sql = _BELOW.format(line=connection.ops.quote_name(Line._meta.db_table))
    with connection.cursor() as cursor:
        cursor.execute(sql, [pk, int(needs_confirmed_lines())])
        return [row[0] if isinstance(row[0], UUID) else UUID(row[0]) for row in cursor.fetchall()]


def leads(person: Person) -> bool:
    """Whether somebody reports to this person."""
    return Line.objects.open().filter(manager=person).exclude(start=Line.Start.ALONE).exists()
