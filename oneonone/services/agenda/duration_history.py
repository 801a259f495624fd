"""Whether a line goes by how its topics have run, and how they run on the whole server."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Iterator
from fractions import Fraction
from itertools import groupby

from django.db import transaction
from django.db.models import F

from accounts.models import Person
from oneonone.models import KindFactor, Line, Meeting, Side
from oneonone.planner.calibration import LINES_NEEDED, server_factors
from oneonone.selectors.agenda import duration_history

COUNTED_EVERY = dt.timedelta(days=7)
COUNTED_BACK = dt.timedelta(days=366)
STEP = 5  # hundredths: coarse, so that one line more or less seldom shows


@transaction.atomic
def use(*, line: Line, uses: bool, actor: Person, now: dt.datetime) -> Line:
    """One side's word on whether minutes go by the line's history; they do while both say so.

    It changes orders that are not issued yet. An issued one keeps the minutes that people prepare against.
    """
    side = line.side_for(actor)
    field = "manager_uses_history" if side is Side.MANAGER else "report_uses_history"
    changed = Line.objects.filter(pk=line.pk, **{field: not uses}).update(
        **{field: uses}, version=F("version") + 1
    )
    if changed:
        Meeting.objects.filter(line=line, state=Meeting.State.PLANNED).update(seq=F("seq") + 1)
    line.refresh_from_db()
    return line


@transaction.atomic
def count(*, now: dt.datetime) -> int:
    """Count the server's factors anew, once a week; how many kinds have one.

    Only what a year of lines that use their history says, each line once, and only of a kind that ten of
    them have enough of. Which lines those are is stored nowhere.
    """
    newest = KindFactor.objects.order_by("-counted_at").first()
    if newest is not None and newest.counted_at > now - COUNTED_EVERY:
        return KindFactor.objects.count()
    lines = list(_lines(duration_history.of_all_lines((now - COUNTED_BACK).date())))
    behind = Counter(kind for line in lines for kind in line)
    known = {kind: factor for kind, factor in server_factors(lines).items() if behind[kind] >= LINES_NEEDED}
    KindFactor.objects.exclude(kind__in=known).delete()
    for kind, factor in known.items():
        KindFactor.objects.update_or_create(
            kind=kind,
            defaults={"hundredths": _coarse(factor), "lines": behind[kind], "counted_at": now},
        )
    return len(known)


def _lines(timed: Iterable[duration_history.Timed]) -> Iterator[duration_history.Pairs]:
    for _line, rows in groupby(timed, key=lambda one: one.line):
        if pairs := duration_history.enough(rows):
            yield pairs


def _coarse(factor: Fraction) -> int:
    return STEP * round(100 * factor / STEP)
