"""The cadence of everybody below a head, beside one hand-written query for the same rows.

The floor is a query of its own, written for speed alone: no grouping into lines, no standing, no names of
kinds; its rows are fetched as the engine gives them. The figure is the ratio of the two, each the best of
several turns in alternation. The page itself, with pictures and HTML, is measured beside them and not judged
against the floor, which draws nothing. Run with -s to see the figures.
"""

from __future__ import annotations

import cProfile
import datetime as dt
import gc
import pstats
from collections.abc import Callable
from math import log
from time import process_time
from typing import Any

import pytest
from django.db import connection
from django.urls import reverse

from accounts.models import Person
from oneonone.selectors.cadence import cadence, lines_below
from tests.bench.grow import grow
from tests.cast import ClientFor, make_person, queries

SIZES = (10, 100, 1000, 10_000)
TURNS = 5
NOW = dt.datetime(2026, 11, 25, 10, 0, tzinfo=dt.UTC)

FLOOR = """
WITH RECURSIVE seen(line, person) AS (
  SELECT id, report_id FROM oneonone_line
  WHERE manager_id = %s AND ended_at IS NULL AND start <> 'alone'
  UNION
  SELECT l.id, l.report_id FROM seen JOIN oneonone_line l ON l.manager_id = seen.person
  WHERE l.ended_at IS NULL AND l.start <> 'alone' AND l.tree_confirmed_at IS NOT NULL)
SELECT l.id, m.id, m.name, r.name, l.starts_on, i.zone, i.every, i.unit, i.anchor, i.effective_from,
  (SELECT MAX(h.held_on) FROM oneonone_meeting h WHERE h.line_id = l.id AND h.state || '' = 'closed'
    AND NOT EXISTS (SELECT 1 FROM oneonone_heldclaim c WHERE c.meeting_id = h.id AND NOT c.held)),
  n.starts_at, n.confirmed_at, p.first, p.last
FROM seen JOIN oneonone_line l ON l.id = seen.line
JOIN accounts_person m ON m.id = l.manager_id JOIN accounts_person r ON r.id = l.report_id
LEFT JOIN oneonone_meeting n ON n.id = (
  SELECT x.id FROM oneonone_meeting x WHERE x.line_id = l.id AND x.starts_at > %s
    AND x.state || '' IN ('planned', 'issued', 'under_way') ORDER BY x.starts_at LIMIT 1)
LEFT JOIN oneonone_interval i ON i.line_id = l.id LEFT JOIN oneonone_pause p ON p.line_id = l.id
"""


def floor(lead: Person) -> list[tuple[Any, ...]]:
    pk = lead.pk if connection.vendor == "postgresql" else lead.pk.hex
    with connection.cursor() as cursor:
        cursor.execute(FLOOR, [pk, connection.ops.adapt_datetimefield_value(NOW)])
        rows: list[tuple[Any, ...]] = cursor.fetchall()
    return rows


def best(*acts: Callable[[], object]) -> list[float]:
    """Processor seconds of each, the best of several turns in alternation."""
    seconds: list[list[float]] = [[] for _ in acts]
    for _ in range(TURNS):
        for act, spent in zip(acts, seconds, strict=True):
            gc.collect()
            begun = process_time()
            act()
            spent.append(process_time() - begun)
    return [min(spent) for spent in seconds]


@pytest.mark.django_db
def test_a_head_of_ten_thousand_waits_little_longer_than_for_the_query(client_for: ClientFor) -> None:
    ratios: dict[int, float] = {}
    spent: dict[int, float] = {}
    for place, size in enumerate(SIZES):
        lead = make_person(f"Head {place}")
        grow(lead, size, now=NOW, seed=place)
        assert len(floor(lead)) >= size
        client = client_for(lead)
        where = f"{reverse('cadence')}?everyone"
        client.get(where)
        under, rows, team, page = best(
            lambda lead=lead: floor(lead),  # type: ignore[misc]  # bound per size
            lambda lead=lead: lines_below.below(lead, now=NOW, everyone=True),  # type: ignore[misc]
            lambda lead=lead: cadence.team(lead, now=NOW, everyone=True),  # type: ignore[misc]
            lambda client=client, where=where: client.get(where),  # type: ignore[misc]
        )
        with queries() as made:
            client.get(where)
        ratios[size], spent[size] = rows / under, team
        print(  # noqa: T201  # the figures are the point
            f"\n{size:6,} below: floor {under * 1e3:7.2f} ms, rows {rows * 1e3:7.2f} ms"
            f" ({rows / under:.2f} floors), sorted and summed {team * 1e3:7.2f} ms ({team / under:.2f}),"
            f" page {page * 1e3:7.1f} ms, {len(made)} queries"
        )
    slope = log(spent[10_000] / spent[10]) / log(1000)
    profile = cProfile.Profile()
    profile.runcall(lines_below.below, lead, now=NOW, everyone=True)
    stats = pstats.Stats(profile).stats  # type: ignore[attr-defined]  # missing from the stubs
    counted = sum(row[2] for row in stats.values())
    heaviest = sorted(((row[2] / counted, key[2]) for key, row in stats.items()), reverse=True)[:5]
    print(f"growth slope {slope:.2f}; " + ", ".join(f"{name} {share:.0%}" for share, name in heaviest))  # noqa: T201
    assert ratios[10_000] <= 1.5
    assert slope <= 1.1
