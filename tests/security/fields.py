"""Which names each route reads from a form or from the query, found by following its view through its code.

A view reads a name through a field of a form it makes, or by itself from ``request.POST`` or ``request.GET``.
Functions of the pages' own package that it calls are followed. A form that a view only shows counts too: more
is found than is read, never less.
"""

from __future__ import annotations

import ast
import functools
import inspect
import textwrap
import types
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from django import forms

from tests.security.routes import Route

OURS = ("oneonone.web", "accounts")
QUERY, BODY = "query", "body"


@dataclass(frozen=True)
class Field:
    """One name that a route reads: where it comes from, and the form's field when there is one."""

    where: str
    name: str
    field: forms.Field | None = None

    @property
    def may_name_a_row(self) -> bool:
        """Whether it takes a key of a row, or whatever was sent, or comes along unseen.

        Choices that stand in the code are words and not rows; those that are set for each reader may be keys.
        """
        field = self.field
        if field is None:
            return True
        chosen = isinstance(field, forms.ChoiceField) and not field.choices
        keyed = isinstance(field, forms.UUIDField | forms.ModelChoiceField)
        return chosen or keyed or isinstance(field.widget, forms.HiddenInput)


def of_route(route: Route) -> list[Field]:
    """All names that a route reads, each once."""
    view = inspect.unwrap(route.view)
    found: dict[tuple[str, str], Field] = {}
    for thing in _reached(view):
        for field in _of_form(thing) if inspect.isclass(thing) else _read_directly(thing):
            known = found.get((field.where, field.name))
            if known is None or field.may_name_a_row:
                found[field.where, field.name] = field
    return list(found.values())


def _reached(view: Callable[..., Any]) -> list[Any]:
    """The functions of ours and the classes of forms that a view comes to."""
    seen: list[Any] = []
    todo: list[Any] = [view]
    while todo:
        thing = todo.pop()
        if thing in seen:
            continue
        seen.append(thing)
        if isinstance(thing, types.FunctionType):
            todo += _named_in(thing)
    return seen


def _named_in(function: types.FunctionType) -> Iterator[Any]:
    """What a function's code names that is ours: by itself, or as an attribute of a module of ours."""
    names = _names(function.__code__)
    spaces = [function.__globals__]
    for name in names:
        named = function.__globals__.get(name)
        if isinstance(named, types.ModuleType) and named.__name__.startswith(OURS):
            spaces.append(vars(named))
    for space in spaces:
        for name in names:
            thing = inspect.unwrap(found) if callable(found := space.get(name)) else None
            if thing is not None and _is_ours(thing):
                yield thing


def _names(code: types.CodeType) -> set[str]:
    """The names in a function's code and in that of the functions inside it."""
    inner = [constant for constant in code.co_consts if isinstance(constant, types.CodeType)]
    return set(code.co_names).union(*map(_names, inner))


def _is_ours(thing: Any) -> bool:
    if inspect.isclass(thing):
        return issubclass(thing, forms.BaseForm | forms.BaseFormSet)
    return isinstance(thing, types.FunctionType) and thing.__module__.startswith(OURS)


def _of_form(form: type[Any]) -> Iterator[Field]:
    if issubclass(form, forms.BaseFormSet):
        form = form.form
    where = QUERY if form.__name__ in READ_FROM_THE_QUERY else BODY
    for name, field in getattr(form, "base_fields", {}).items():
        yield Field(where, name, field)


# Forms that are filled from the address.
READ_FROM_THE_QUERY = {"FilterForm"}


@functools.cache
def _read_directly(function: types.FunctionType) -> list[Field]:
    """Names that a function takes from ``request.POST`` or ``request.GET`` without a form."""
    found = []
    for node in ast.walk(ast.parse(textwrap.dedent(inspect.getsource(function)))):
        for part, key in _lookups(node):
            found.append(Field(QUERY if part == "GET" else BODY, key))
    return found


def _lookups(node: ast.AST) -> Iterator[tuple[str, str]]:
    """The part of a request and the name that an expression looks up in it."""
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.args:
        pair = (node.func.value, node.args[0])
    elif isinstance(node, ast.Subscript):
        pair = (node.value, node.slice)
    elif isinstance(node, ast.Compare) and len(node.comparators) == 1:
        pair = (node.comparators[0], node.left)
    else:
        return
    part, key = pair
    if isinstance(part, ast.Attribute) and part.attr in ("POST", "GET", "FILES"):
        yield part.attr, str(key.value) if isinstance(key, ast.Constant) else f"<{ast.unparse(key)}>"
