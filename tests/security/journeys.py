"""The journeys of the canaries: private words written in every way, and everything looked at."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from django.db import DatabaseError, connection
from django.test import override_settings

from accounts.models import Person
from oneonone import clock
from oneonone.models import BusyWeek, Commitment, CommitmentPlan, LogbookEntry, Meeting, Preparation
from oneonone.services.private import keys
from tasks import schedule
from tests.security.collectors import Evidence
from tests.security.matrix import Cell, Matrix, undone
from tests.security.rows import IN, POST, ROWS
from tests.security.world import NAMES, NOW, SIDES, TODAY, Thing, private_word

LATER = NOW + dt.timedelta(days=9)


@dataclass
class Planted:
    """How many private fields hold a canary, by kind."""

    kinds: dict[str, int]


def plant(matrix: Matrix) -> Planted:
    """Seal a canary in every private field that the services do not write yet, for every person.

    The world has planted those in the margins, at topics and at meetings.
    """
    kinds = {
        "margin": 2 * 3 * (len(SIDES) - 1) + 2 * 2,
        "logbook": 0,
        "preparation": 0,
        "plan": 0,
        "busy week": 0,
    }
    for actor, person in matrix.world.people.items():
        _sealed(LogbookEntry(owner=person), person, {"words": private_word(actor, "logbook")})
        kinds["logbook"] += 1
        # Nothing but times is kept of a calendar; the word stands for a name that came along.
        week = BusyWeek(owner=person, week=NOW.date() - dt.timedelta(days=NOW.weekday()))
        _sealed(week, person, {"blocks": [], "name": private_word(actor, "calendar")})
        kinds["busy week"] += 1
    for name, sides in SIDES.items():
        for actor in sides:
            person = matrix.world.people[actor]
            meeting = Meeting.objects.filter(line=matrix.world.lines[name]).latest("starts_at")
            _sealed(
                Preparation(owner=person, meeting=meeting), person, {"ticks": [private_word(actor, name)]}
            )
            kinds["preparation"] += 1
    for commitment in Commitment.objects.filter(owner__isnull=False).select_related("owner"):
        owner = commitment.owner
        assert owner is not None
        actor = next(name for name, person in matrix.world.people.items() if person == owner)
        plan = CommitmentPlan(owner=owner, commitment=commitment)
        _sealed(plan, owner, {"when": private_word(actor, "plan"), "reason": private_word(actor, "reason")})
        kinds["plan"] += 1
    return Planted(kinds)


def _sealed(row: Any, author: Person, payload: dict[str, Any]) -> None:
    row.created_on = row.changed_on = TODAY
    keys.seal_for(author=author, row=row, payload=payload, now=NOW)
    row.save(force_insert=True)


def travel(matrix: Matrix, evidence: Evidence) -> int:
    """Write, look at everything, act, let the jobs run and let things go wrong. How many requests it took."""
    made = 0
    for cell, undo in _requests(matrix):
        _go(matrix, evidence, cell, undo=undo)
        made += 1
    schedule.run_once(NOW)
    clock.hold_at(LATER)
    schedule.run_once(LATER)
    schedule.run_once(LATER + dt.timedelta(days=30))
    clock.hold_at(NOW)
    for debug in (False, True):
        with override_settings(DEBUG=debug):
            made += _go_wrong(matrix, evidence)
    return made


def _requests(matrix: Matrix) -> Iterator[tuple[Cell, bool]]:
    """First private words typed into pages and kept, then every page as everybody, then every act, undone."""
    writing = next(row for row in ROWS if row.key == "margin-write topic_id")
    for thing in matrix.world.things["topic"]:
        for actor in thing.roles:
            yield Cell(writing, "POST", actor, thing), False
    for method in ("GET", "POST"):
        for row in ROWS:
            for cell in matrix.cells(row, [method]):
                if method in row.methods and (cell.verdict == IN or cell.thing.place == "own"):
                    yield cell, method in POST


def _go(matrix: Matrix, evidence: Evidence, cell: Cell, *, undo: bool) -> None:
    data = cell.row.send(matrix.world) if callable(cell.row.send) else dict(cell.row.send)
    if cell.row.name == "margin-write":
        data = {"words": f"Again {private_word(cell.actor, cell.thing.line)}", "revision": 1, "unclear": "on"}
    send = data if cell.method in POST else None
    with undone() if undo else _kept():
        answer = matrix.browsers[cell.actor].ask(cell.method, matrix.path(cell.row, cell.thing), send)
    note(evidence, answer, cell.actor, str(cell))


def note(evidence: Evidence, answer: Any, actor: str, about: str) -> None:
    """Add an answer: status, headers and body, as its reader got it."""
    head = "\n".join(f"{name}: {value}" for name, value in answer.headers)
    evidence.add("responses", f"{answer.status}\n{head}\n".encode() + answer.body, about, actor)


@contextmanager
def _kept() -> Iterator[None]:
    yield


def _go_wrong(matrix: Matrix, evidence: Evidence) -> int:
    """Private words are sent, and pages with them asked for, while the database fails."""
    thing: Thing = next(thing for thing in matrix.world.things["topic"] if thing.roles)
    row = next(row for row in ROWS if row.key == "margin-write topic_id")
    path, made = matrix.path(row, thing), 0
    for actor in ("manager", "report"):
        for method in ("GET", "POST"):
            words = {"words": private_word(actor, thing.line), "revision": "2"}
            with connection.execute_wrapper(_fails_at_margins):
                answer = matrix.browsers[actor].ask(method, path, words if method == "POST" else None)
            assert answer.status == 500
            note(evidence, answer, actor, f"error at {method}")
            made += 1
    for actor in NAMES:
        note(evidence, matrix.browsers[actor].ask("GET", "/no/such/page/"), actor, "nowhere")
        made += 1
    return made


def _fails_at_margins(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
    if "oneonone_marginnote" in sql:
        raise DatabaseError("disk I/O error")
    return execute(sql, params, many, context)
