"""The matrix: asks every cell, and says in what an answer differs from what the table demands."""

from __future__ import annotations

import logging
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from django.db import transaction
from django.urls import reverse

from tests.security import rows, tables
from tests.security.browser import Answer, Browser
from tests.security.routes import METHODS
from tests.security.rows import IN, NOT_THEIRS, POST, Row
from tests.security.world import (
    NAMES,
    NEVER_IN,
    SIDES,
    TOKENS,
    Thing,
    World,
    private_word,
    shared_word,
)

ACTORS = ("anonymous", *NAMES)
SIGNED_OUT = ("anonymous", *NEVER_IN)
NOTHING = Thing("", "", "")
WORDS = re.compile(r"Pennant[A-Za-z0-9]+|Bilge[A-Za-z0-9]+")
WRITES = re.compile(r'^\s*(?:INSERT INTO|UPDATE|DELETE FROM) "(\w+)"')


@dataclass(frozen=True)
class Cell:
    """One request that one actor makes for one thing."""

    row: Row
    method: str
    actor: str
    thing: Thing

    @property
    def declared(self) -> bool:
        return self.method in self.row.methods or (self.method == "HEAD" and "GET" in self.row.methods)

    @property
    def verdict(self) -> str | int:
        """IN, or the status of the refusal."""
        if not self.declared:
            return 405
        who = self.row.who
        if self.row.kind in TOKENS or "anybody" in who:
            return IN if "anybody" in who and self.thing.place != "missing" else 404
        if self.actor in SIGNED_OUT:
            return 302
        given = who.get("signed in") or who.get(self.thing.roles.get(self.actor, "nobody"))
        if self.actor == "administrator":
            given = given or who.get("administrator of the server")
        if given == NOT_THEIRS:
            return 403
        return IN if given == IN else 404

    @property
    def may_show(self) -> set[str]:
        """The words that may be in the answer."""
        if self.verdict != IN or self.row.shows == "nothing":
            return set()
        mine = [self.thing.line] if self.row.shows == "line" else lines_of(self.actor)
        logbook = {private_word(self.actor, "logbook")} if self.row.shows == "own" else set()
        return (
            {shared_word(line) for line in mine} | {private_word(self.actor, line) for line in mine} | logbook
        )

    def __str__(self) -> str:
        return f"{self.method} {self.row.name} as {self.actor} for {self.thing}"


def lines_of(actor: str) -> list[str]:
    """The lines whose words an actor may read, ended ones of a former report among them."""
    lines = [name for name, sides in SIDES.items() if actor in sides]
    if actor == "former manager":
        # What he took on himself there stays his to finish.
        return ["ended"]
    return lines + ["invited", "invited long ago"] * (actor == "manager")


@dataclass
class Tally:
    """What was asked, for the summary at the end of the run."""

    cells: int = 0
    routes: set[str] = field(default_factory=set)
    methods: set[str] = field(default_factory=set)
    actors: set[str] = field(default_factory=set)
    things: set[str] = field(default_factory=set)

    def count(self, cell: Cell) -> None:
        self.cells += 1
        self.routes.add(cell.row.key)
        self.methods.add(cell.method)
        self.actors.add(cell.actor)
        self.things.add(str(cell.thing))

    def as_property(self) -> dict[str, Any]:
        return {
            "cells": self.cells,
            **{name: sorted(getattr(self, name)) for name in ("routes", "methods", "actors", "things")},
        }


@contextmanager
def unlogged() -> Iterator[None]:
    """Thousands of refusals, each a warning: formatting them would take longer than refusing."""
    logging.disable(logging.CRITICAL)
    try:
        yield
    finally:
        logging.disable(logging.NOTSET)


@contextmanager
def undone() -> Iterator[None]:
    """A savepoint that is always rolled back."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


@dataclass
class Matrix:
    """A world, the browsers of its people, and the state of all tables that every refusal has to leave."""

    world: World
    browsers: Mapping[str, Browser]
    baseline: dict[str, str]
    tally: Tally = field(default_factory=Tally)

    def cells(self, row: Row, methods: Iterable[str] = METHODS) -> Iterator[Cell]:
        """All cells of a row. Methods that the row does not have, and HEAD, are asked of one thing."""
        things = [NOTHING]
        if row.kind:
            things = [*self.world.things.get(row.kind, []), self.world.missing(row.kind)]
        for method in methods:
            several = method in row.methods
            for thing in things if several else things[:1]:
                for actor in ACTORS:
                    if not thing.only or actor in thing.only:
                        yield Cell(row, method, actor, thing)

    def run(self, row: Row, methods: Iterable[str] = METHODS) -> tuple[list[str], int]:
        """What is wrong in a row, and how many of its accepted acts changed a table; nothing is logged."""
        with unlogged():
            return self._run(row, methods)

    def _run(self, row: Row, methods: Iterable[str]) -> tuple[list[str], int]:
        """What may change nothing is asked in a row, and the tables are looked at once an actor.

        Only when they have changed is each request made again by itself, to name the one that did it.
        """
        wrong: list[str] = []
        quiet: dict[str, list[Cell]] = {}
        missing: dict[tuple[str, str], Answer] = {}
        wrote = 0
        for cell in self.cells(row, methods):
            if cell.verdict == IN and cell.method in POST:
                with undone():
                    answer = self.ask(cell)
                wrong += faults(cell, answer, None)
                wrote += bool(written(answer))
            else:
                quiet.setdefault(cell.actor, []).append(cell)
        for cells in quiet.values():
            with undone():
                before = tables.touched()
                for cell in sorted(cells, key=lambda cell: cell.thing.place != "missing"):
                    answer = self.ask(cell)
                    if cell.thing.place == "missing":
                        missing[cell.method, cell.actor] = answer
                    wrong += faults(cell, answer, missing.get((cell.method, cell.actor)))
                same = tables.touched() == before or tables.sums() == self.baseline
            if not same:
                wrong += self._who_wrote(cells)
        return wrong, wrote

    def red(self, row: Row) -> int:
        """How many refusals of a row are not given: each is asked by itself, for a guard that is off."""
        refused = [cell for cell in self.cells(row, row.methods) if cell.verdict not in (IN, 405)]
        found = 0
        with unlogged():
            for cell in refused:
                with undone():
                    found += bool(faults(cell, self.ask(cell), None))
        return found

    def _who_wrote(self, cells: Iterable[Cell]) -> list[str]:
        found = []
        for cell in cells:
            with undone():
                self.ask(cell)
                if changed := tables.changed(self.baseline, tables.sums()):
                    found.append(f"{cell}: changed {', '.join(changed)}")
        return found or ["tables changed by several requests together"]

    def ask(self, cell: Cell) -> Answer:
        self.tally.count(cell)
        send = cell.row.send(self.world) if callable(cell.row.send) else cell.row.send
        data = send if cell.method in ("POST", "PUT", "PATCH", "DELETE") else None
        return self.browsers[cell.actor].ask(cell.method, self.path(cell.row, cell.thing), data)

    def path(self, row: Row, thing: Thing) -> str:
        """The address of a thing on a route."""
        return reverse(row.name, kwargs={row.id: thing.pk} if row.id else None)


def written(answer: Answer) -> set[str]:
    """The tables that an answer's statements wrote to, sessions aside."""
    found = {match[1] for sql in answer.statements if (match := WRITES.match(sql))}
    return found - tables.SESSIONS


def faults(cell: Cell, answer: Answer, missing: Answer | None) -> list[str]:
    """In what an answer differs from what the table demands, in words."""
    verdict, state = cell.verdict, cell.thing.state
    states = (f"{state} {rows.SIGNED_OUT}", state) if cell.actor in SIGNED_OUT else (state,)
    expected = verdict if isinstance(verdict, int) else cell.row.status(cell.method, *states)
    if answer.status != expected:
        return [f"{cell}: {answer.status} and not {expected}"]
    wrong = []
    sent = answer.text + "\n".join(f"{name}: {value}" for name, value in answer.headers)
    if unfit := set(WORDS.findall(sent)) - cell.may_show:
        wrong.append(f"{cell}: shows {', '.join(sorted(unfit))}")
    if verdict != IN and (fault := _refusal_fault(cell, answer, missing)):
        wrong.append(f"{cell}: {fault}")
    return wrong


def _refusal_fault(cell: Cell, answer: Answer, missing: Answer | None) -> str:
    check: Callable[[Cell, Answer, Answer | None], str] = {
        302: _sent_to_sign_in,
        403: _plainly_forbidden,
        404: _as_if_missing,
        405: _methods_named,
    }[answer.status]
    return check(cell, answer, missing)


def _sent_to_sign_in(cell: Cell, answer: Answer, missing: Answer | None) -> str:
    target = answer.header("Location").partition("?")[0]
    return "" if target == reverse("account_login") and not answer.body else f"goes to {target}"


def _plainly_forbidden(cell: Cell, answer: Answer, missing: Answer | None) -> str:
    tells = NAMES[cell.actor] in answer.text or answer.header("Set-Cookie")
    return "tells who asked" if tells else ""


def _as_if_missing(cell: Cell, answer: Answer, missing: Answer | None) -> str:
    if missing is None or answer.sameness == missing.sameness:
        return ""
    parts = zip(("status", "headers", "bytes", "queries"), answer.sameness, missing.sameness, strict=True)
    return "not as if missing: " + ", ".join(name for name, mine, theirs in parts if mine != theirs)


def _methods_named(cell: Cell, answer: Answer, missing: Answer | None) -> str:
    named = set(answer.header("Allow").split(", "))
    allowed = set(cell.row.methods) | ({"HEAD"} if "GET" in cell.row.methods else set())
    return "" if named == allowed and not answer.body else f"allows {sorted(named)}"
