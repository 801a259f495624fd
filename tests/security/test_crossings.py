"""Ids crossed in forms and queries: none is taken for a row that is not meant, or told from a missing one."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any
from uuid import UUID

import pytest
from django import forms
from django.http import HttpRequest
from django.urls import reverse

from oneonone.models import ClientKey, Topic
from oneonone.web.policy import SIGNED_IN, view
from tests.security import fields, routes, tables
from tests.security.browser import Answer
from tests.security.crossings import CROSSINGS, NAMES_NO_ROW, NO_ROW_THERE, OWN_KEY, Crossing
from tests.security.matrix import Cell, Matrix, undone, unlogged
from tests.security.routes import Route
from tests.security.rows import IN, KEY, ROWS, Row
from tests.security.world import MISSING, Thing

pytestmark = pytest.mark.django_db
ROWS_BY_KEY = {row.key: row for row in ROWS}
# What a page says otherwise each time, whatever it was asked: tokens, new keys of forms, the time of day, and
# the signature of what is to be said on the next page, which has the time in it.
EACH_TIME = re.compile(
    r'(name="(?:csrfmiddlewaretoken|client_key)" value=")[^"]*|(csrf=)[^;]*|(expires[=:] ?)[^;\n]*'
    r"|(messages=[^:;]*)[^;]*",
    re.IGNORECASE,
)


def named(served: list[Route]) -> tuple[set[tuple[str, str]], set[str]]:
    """The pairs of a route and a name that may mean a row, and names that are on no list."""
    pairs, unlisted = set(), set()
    for route in served:
        for one in fields.of_route(route):
            if not one.may_name_a_row or one.name in (OWN_KEY, *NAMES_NO_ROW):
                continue
            if one.where == fields.BODY and "POST" not in route.view.methods:  # type: ignore[attr-defined]
                continue
            pairs.add((route.key, one.name))
    known = {crossing.key for crossing in CROSSINGS} | NO_ROW_THERE.keys()
    unlisted = {f"{key}: {name}" for key, name in pairs - known}
    return pairs, unlisted


def test_every_name_that_may_mean_a_row_is_crossed_or_said_to_mean_none() -> None:
    ours = [route for route in [*routes.of_the_server(), *routes.of_the_demo()] if route.ours]
    pairs, unlisted = named(ours)
    assert unlisted == set()
    assert {crossing.key for crossing in CROSSINGS} | NO_ROW_THERE.keys() <= pairs
    read = {one.name for route in ours for one in fields.of_route(route)}
    assert NAMES_NO_ROW.keys() - read == set()


class Handing(forms.Form):
    """A form that a later page might have."""

    to_line = forms.UUIDField(widget=forms.HiddenInput)


@view(policy=SIGNED_IN, methods=("GET", "POST"))
def hand(request: HttpRequest) -> Any:
    """A later page."""
    form = Handing(request.POST)
    return form.is_valid() and request.GET.get("from_line")


def test_a_new_name_that_means_a_row_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(fields, "OURS", (*fields.OURS, __name__))
    _pairs, unlisted = named([Route("line-hand", (), "hand/", hand)])
    assert unlisted == {"line-hand: to_line", "line-hand: from_line"}


def test_forms_are_found_behind_helpers_and_in_other_modules() -> None:
    """Deriving them would prove nothing if it stopped at the view's own lines."""
    by_key = {route.key: route for route in routes.of_the_server()}
    found = {one.name for one in fields.of_route(by_key["commitment-take-on meeting_id"])}
    assert {"placement", "client_key", "next", "action"} <= found
    assert "kind" in {one.name for one in fields.of_route(by_key["contacts-edit"])}


# --- each name, with ids that are not meant -------------------------------------------------------------
def thing_of(matrix: Matrix, crossing: Crossing) -> Thing:
    row = ROWS_BY_KEY[crossing.route]
    if not row.kind:
        return matrix.world.missing("")
    things = matrix.world.things[row.kind]
    return next(thing for thing in things if f"{thing.place} {thing.state}".strip() == crossing.place)


def send(matrix: Matrix, crossing: Crossing, value: Any, actor: str = "") -> Answer:
    """The row's usual form or query with this value under the name."""
    row, actor = ROWS_BY_KEY[crossing.route], actor or crossing.actor
    method = "POST" if "POST" in row.methods else "GET"
    thing = thing_of(matrix, crossing)
    matrix.tally.count(Cell(row, method, actor, thing))
    usual = row.send(matrix.world) if callable(row.send) else row.send
    data = {**usual, **crossing.send, crossing.name: value}
    return matrix.browsers[actor].ask(method, matrix.path(row, thing), data)


def plain(answer: Answer, value: Any) -> tuple[int, str, str]:
    """What was answered, but for what differs each time and the id itself, which the sender knows."""
    heads = "\n".join(sorted(f"{name}: {said}" for name, said in answer.headers))
    same = (EACH_TIME.sub(r"\1\2\3\4", text) for text in (heads, answer.text))
    heads, body = (re.sub(rf"\b{re.escape(str(value))}\b", "ID", text) for text in same)
    return answer.status, re.sub(r"Content-Length: \d+\n?", "", heads), body


def faults(matrix: Matrix, crossing: Crossing) -> list[str]:
    """In what the answers differ from a refusal that changes nothing and tells nothing."""
    ids: Mapping[str, Callable[..., Any]] = {"missing": lambda world: crossing.missing, **crossing.hidden}
    wrong: list[str] = []
    answers: dict[str, tuple[int, str, str]] = {}
    for what, find in (*ids.items(), *((what, find) for what, (find, _status) in crossing.seen.items())):
        with undone(), unlogged():
            value = find(matrix.world)
            before = tables.sums()
            answer = send(matrix, crossing, value)
            if altered := tables.changed(before, tables.sums()):
                wrong.append(f"{crossing}, {what}: changed {', '.join(altered)}")
        answers[what] = plain(answer, value)
        expected = crossing.seen[what][1] if what in crossing.seen else crossing.status
        if answer.status != expected:
            wrong.append(f"{crossing}, {what}: {answer.status} and not {expected}")
    told = [what for what in crossing.hidden if answers[what] != answers["missing"]]
    return wrong + [f"{crossing}, {what}: told from a missing one" for what in told]


@pytest.mark.parametrize("crossing", CROSSINGS, ids=str)
def test_no_id_is_taken_for_a_row_that_is_not_meant(counted: Matrix, crossing: Crossing) -> None:
    assert faults(counted, crossing) == []


@pytest.mark.parametrize("crossing", CROSSINGS, ids=str)
def test_the_row_that_is_meant_is_taken(matrix: Matrix, crossing: Crossing) -> None:
    """Or else the refusals would be about something else in the form."""
    with undone(), unlogged():
        value = crossing.taken(matrix.world)
        before = tables.sums()
        answer = send(matrix, crossing, value)
        altered = tables.changed(before, tables.sums())
    if crossing.asks and answer.status == 200:
        assert 'name="taken"' in answer.text
    elif "POST" in ROWS_BY_KEY[crossing.route].methods:
        assert answer.status == 302
        assert altered
    else:
        assert answer.status == 200


@pytest.mark.parametrize("crossing", [one for one in CROSSINGS if one.off], ids=str)
def test_without_the_check_the_crossing_goes_red(
    matrix: Matrix, monkeypatch: pytest.MonkeyPatch, record_property: Any, crossing: Crossing
) -> None:
    assert crossing.off
    crossing.off(monkeypatch)
    red = len(faults(matrix, crossing))
    record_property("security", f"guard off: {crossing}: {red} cells red")
    assert red


def test_a_filter_by_account_is_no_filter_for_anybody_else(matrix: Matrix) -> None:
    """To somebody who is no administrator the page is missing, whatever its query names."""
    audit = next(crossing for crossing in CROSSINGS if crossing.route == "audit")
    for actor in ("manager", "staff", "superuser"):
        with undone(), unlogged():
            here, nobody = (
                send(matrix, audit, value, actor) for value in (matrix.world.people[actor].pk, MISSING)
            )
        assert here.status == 404
        assert here.sameness == nobody.sameness


# --- ids in the path, of another kind -------------------------------------------------------------------
@pytest.mark.parametrize(
    "row", [row for row in ROWS if row.kind and row.kind != "invitation"], ids=lambda row: row.key
)
def test_an_id_of_another_kind_is_as_good_as_missing(matrix: Matrix, row: Row) -> None:
    """Somebody who is let in sends the id of a line, or of a meeting, of their own where another is meant."""
    cell = next((cell for cell in matrix.cells(row, row.methods) if cell.verdict == IN), None)
    if cell is None or "anybody" in row.who:
        return
    kind = "meeting" if row.kind == "line" else "line"
    other = next(thing.pk for thing in matrix.world.things[kind] if thing.place == "own")
    usual = row.send(matrix.world) if callable(row.send) else row.send
    for method in row.methods:
        with undone(), unlogged():
            crossed, missing = (
                matrix.browsers[cell.actor].ask(
                    method, reverse(row.name, kwargs={row.id: pk}), usual if method == "POST" else None
                )
                for pk in (other, MISSING)
            )
            assert crossed.status == 404
            assert crossed.sameness == missing.sameness
            assert tables.changed(matrix.baseline, tables.sums()) == []


# --- keys that senders make up --------------------------------------------------------------------------
def test_a_key_that_somebody_else_used_is_as_good_as_new(matrix: Matrix) -> None:
    """It is neither refused, which would tell that it was used, nor answered with the other's row."""
    row = ROWS_BY_KEY["topic-add line_id"]
    thing = next(thing for thing in matrix.world.things["line"] if thing.place == "own")
    theirs = next(thing for thing in matrix.world.things["line"] if thing.place == "unrelated")
    key = UUID("0a1b2c3d-0000-4000-8000-0000000000c1")
    data = dict(row.send) if not callable(row.send) else {}
    with undone(), unlogged():
        sent = matrix.browsers["other manager"].ask("POST", matrix.path(row, theirs), data | {OWN_KEY: key})
        assert sent.status == 302
        used_for = ClientKey.objects.get(key=key).subject
        assert used_for
        before = Topic.objects.get(pk=used_for)
        mine = Topic.objects.filter(line=matrix.world.lines["own"])
        number = mine.count()
        answers = [
            matrix.browsers["manager"].ask("POST", matrix.path(row, thing), data | {OWN_KEY: used})
            for used in (key, KEY)
        ]
        assert [answer.status for answer in answers] == [302, 302]
        assert mine.count() == number + 2
        after = Topic.objects.get(pk=before.pk)
        assert (after.line_id, after.raiser_id, after.version) == (
            before.line_id,
            before.raiser_id,
            before.version,
        )


def test_ones_own_key_of_another_line_makes_nothing(matrix: Matrix) -> None:
    row = ROWS_BY_KEY["topic-add line_id"]
    own, peer = (
        next(thing for thing in matrix.world.things["line"] if thing.place == place)
        for place in ("own", "peer")
    )
    data = dict(row.send) if not callable(row.send) else {}
    with undone(), unlogged():
        matrix.browsers["manager"].ask("POST", matrix.path(row, own), data)
        before = tables.sums()
        matrix.browsers["manager"].ask("POST", matrix.path(row, peer), data)
        assert tables.changed(before, tables.sums()) == []
