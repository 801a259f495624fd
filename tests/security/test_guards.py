"""Each guard has a twin in which it is off, and the matrix goes red: what no cell notices is no guard.

A guard is each function of ``access.py``, each ``visible_to``, and what the policies ask. Without its twin a
guard could be taken out and every test would still pass.
"""

from __future__ import annotations

import types
from collections.abc import Callable, Iterator, Mapping
from typing import Any

import pytest
from django.apps import apps
from django.db import models
from django.http import Http404

from accounts.models import DayAway, Invitation, Person
from oneonone import access
from oneonone.models import (
    ClosingDay,
    Commitment,
    Deferral,
    Line,
    LogbookEntry,
    Mail,
    Meeting,
    Notice,
    Placement,
    Proposal,
    RecordAddition,
    RecordLine,
    Topic,
)
from oneonone.web import policy
from tests.security import routes
from tests.security.matrix import Matrix, undone
from tests.security.routes import METHODS
from tests.security.rows import ROWS, Row

pytestmark = pytest.mark.django_db

ROW_OF: Mapping[str, type[models.Model]] = {
    "record_line_for": RecordLine,
    "record_addition_for": RecordAddition,
    "line_for": Line,
    "meeting_for": Meeting,
    "topic_for": Topic,
    "placement_for": Placement,
    "commitment_for": Commitment,
    "proposal_for": Proposal,
    "notice_for": Notice,
    "day_away_for": DayAway,
    "person_for": Person,
    "closing_day_for": ClosingDay,
    "mail_for": Mail,
    "logbook_entry_for": LogbookEntry,
    "deferral_for": Deferral,
}
DOORS = {
    name: function
    for name, function in vars(access).items()
    if isinstance(function, types.FunctionType)
    and function.__module__ == access.__name__
    and not name.startswith("_")
}
# Doors that may stand without a page; as soon as one has a page, its twin runs with the others.
MAY_BE_UNUSED = {"line_for_manager", "person_for_administrator", "closing_day_for_administrator"}
ROWS_BY_KEY = {row.key: row for row in ROWS}
MOST_ROWS = 3


def model_of(door: str) -> type[models.Model]:
    return next(model for prefix, model in ROW_OF.items() if door.startswith(prefix))


def door_cell(view: Callable[..., Any], name: str = "door") -> Any:
    """The place in a page in which its door is kept."""
    free = getattr(view, "__code__", None) and view.__code__.co_freevars
    return dict(zip(free or (), view.__closure__ or (), strict=True)).get(name)


def reached_by(door: Callable[..., Any]) -> set[str]:
    """The names that a door uses, and those that the functions of ``access`` it calls use in turn."""
    found: set[str] = set()
    todo = [door.__name__]
    while todo:
        name = todo.pop()
        function = getattr(access, name, None)
        if name in found or not isinstance(function, types.FunctionType):
            found.add(name)
            continue
        found.add(name)
        todo += function.__code__.co_names
    return found


def rows_through(*names: str) -> list[Row]:
    """Rows whose door comes past all of these names: one that reads, one that writes, and one more."""
    through = []
    for route in routes.of_the_server():
        cell = door_cell(route.view)
        door = cell.cell_contents if cell and route.key in ROWS_BY_KEY else None
        if door is not None and set(names) <= reached_by(door):
            through.append(ROWS_BY_KEY[route.key])
    reading = [row for row in through if "GET" in row.methods][:1]
    return [*reading, *(row for row in through if row not in reading)][:MOST_ROWS]


@pytest.fixture
def say(record_property: Any) -> Callable[[str, int], None]:
    """Note for the summary how many cells went red."""
    return lambda guard, red: record_property("security", f"guard off: {guard}: {red} cells red")


@pytest.fixture
def unguard(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[str], None]]:
    """Put in place of a function of ``access`` one that gives the row to anybody, wherever it is kept."""
    kept: list[tuple[Any, Any]] = []

    def off(name: str) -> None:
        guard, model = DOORS[name], model_of(name)

        def anybody(person: Person, pk: Any) -> models.Model:
            row = model._base_manager.filter(pk=pk).first()
            if row is None:
                raise Http404
            return row

        monkeypatch.setattr(access, name, anybody)
        for route in routes.of_the_server():
            cell = door_cell(route.view)
            if cell is not None and cell.cell_contents is guard:
                kept.append((cell, guard))
                cell.cell_contents = anybody

    yield off
    for cell, guard in kept:
        cell.cell_contents = guard


def test_only_the_doors_on_the_list_have_no_page() -> None:
    assert {name for name in DOORS if not rows_through(name)} <= MAY_BE_UNUSED


@pytest.mark.parametrize("name", sorted(name for name in DOORS if rows_through(name)))
def test_without_a_door_the_matrix_goes_red(
    matrix: Matrix, unguard: Callable[[str], None], say: Callable[[str, int], None], name: str
) -> None:
    unguarded = rows_through(name)
    unguard(name)
    red = sum(matrix.red(row) for row in unguarded)
    say(f"access.{name}", red)
    assert red


# What each actor may find, by kind of thing, as the roles in world.py say it; and a kind's roles that see.
SEEING: Mapping[type[models.Model], tuple[str, frozenset[str]]] = {
    Line: ("line", frozenset({"manager", "report", "former report"})),
    Meeting: ("meeting", frozenset({"manager", "report", "former report"})),
    Topic: ("topic", frozenset({"author", "other"})),
    Commitment: ("commitment", frozenset({"owner", "other"})),
    Notice: ("notice", frozenset({"owner"})),
    DayAway: ("day away", frozenset({"owner"})),
}
# Rows of the system that an administrator sees all of, and everybody else their own.
MANAGED = (Person, Invitation)
# Accounts that can do nothing see nothing through pages; a queryset is never asked for them.
READERS = ("manager", "report", "peer", "other manager", "other report", "lead", "former manager", "outsider",
           "administrator", "staff", "superuser")  # fmt: skip


def querysets() -> dict[type[models.Model], type]:
    """Every model that says who may see its rows, with the queryset that says it."""
    return {
        model: type(model._base_manager.none())
        if hasattr(type(model._base_manager.none()), "visible_to")
        else type(model._default_manager.none())
        for model in apps.get_models()
        if hasattr(getattr(model, "objects", None), "visible_to")
    }


def surprises(matrix: Matrix, model: type[models.Model]) -> int:
    """For how many actors what they find is not what the world's roles say they may."""
    found = 0
    for actor in READERS:
        person = matrix.world.people[actor]
        seen = {row.pk for row in model.objects.visible_to(person)}  # type: ignore[attr-defined]
        if model in MANAGED:
            mine = {person.pk} if model is Person else _sent_by(actor)
            everything = set(model._base_manager.values_list("pk", flat=True))
            found += seen != (everything if actor == "administrator" else mine)
            continue
        kind, roles = SEEING[model]
        things = matrix.world.things[kind]
        expected = {thing.pk for thing in things if thing.roles.get(actor) in roles}
        found += (seen & {thing.pk for thing in things}) != expected
    return found


def _sent_by(actor: str) -> set[Any]:
    """Invitations in the world are Ines's."""
    rows = Invitation.objects.all() if actor == "manager" else Invitation.objects.none()
    return set(rows.values_list("pk", flat=True))


def test_each_model_with_rows_to_be_seen_is_on_the_list() -> None:
    assert set(querysets()) == {*SEEING, *MANAGED}


@pytest.mark.parametrize("model", [*SEEING, *MANAGED], ids=lambda model: model.__name__)
def test_each_actor_finds_what_the_roles_say_and_without_the_guard_more(
    matrix: Matrix,
    monkeypatch: pytest.MonkeyPatch,
    say: Callable[[str, int], None],
    model: type[models.Model],
) -> None:
    assert surprises(matrix, model) == 0
    monkeypatch.setattr(querysets()[model], "visible_to", lambda rows, person: rows.all())
    red = surprises(matrix, model)
    assert red
    rows = rows_through(model.__name__, "visible_to")
    through_pages = sum(matrix.red(row) for row in rows)
    say(f"{model.__name__}.visible_to", red + through_pages)
    assert through_pages or not rows


def test_without_the_administrators_policy_the_matrix_goes_red(
    matrix: Matrix, say: Callable[[str, int], None]
) -> None:
    rows = [ROWS_BY_KEY[key] for key in ("people", "people-line-new", "contacts-edit")]
    object.__setattr__(policy.ADMINISTRATOR, "administrator", False)
    try:
        red = sum(matrix.red(row) for row in rows)
    finally:
        object.__setattr__(policy.ADMINISTRATOR, "administrator", True)
    say("policy administrator", red)
    assert red


@pytest.mark.parametrize(
    ("rule", "key"),
    [(policy.SIGNED_IN, "settings"), (policy.LINE_SIDE, "line line_id"), (policy.ADMINISTRATOR, "people")],
    ids=lambda value: getattr(value, "name", value),
)
def test_without_asking_who_is_signed_in_the_matrix_goes_red(
    matrix: Matrix, say: Callable[[str, int], None], rule: policy.Policy, key: str
) -> None:
    object.__setattr__(rule, "signed_in", False)
    try:
        red = matrix.red(ROWS_BY_KEY[key])
    finally:
        object.__setattr__(rule, "signed_in", True)
    say(f"signed in, asked by {rule.name}", red)
    assert red


def test_without_the_list_of_methods_the_matrix_goes_red(
    matrix: Matrix, say: Callable[[str, int], None]
) -> None:
    view = next(route.view for route in routes.of_the_server() if route.key == "settings")
    cell = door_cell(view, "allowed")
    kept, cell.cell_contents = cell.cell_contents, METHODS
    try:
        wrong, _wrote = matrix.run(ROWS_BY_KEY["settings"])
    finally:
        cell.cell_contents = kept
    say("methods", len(wrong))
    assert wrong


def test_without_the_check_of_the_forms_token_an_act_is_taken(
    matrix: Matrix, say: Callable[[str, int], None]
) -> None:
    """The browser of the matrix is the twin: it has the check off, and the act is done."""
    path = matrix.path(ROWS_BY_KEY["notices-read"], matrix.world.missing(""))
    with undone():
        answer = matrix.browsers["manager"].ask("POST", path)
    say("form token", int(answer.status == 302))
    assert answer.status == 302
