"""Every line of the checklist is shown by tests that exist, or says why it is not held."""

from __future__ import annotations

import ast
import functools
import re
from collections.abc import Iterable
from typing import Any

import pytest

from tests.architecture.tree import PROJECT
from tests.security.checklist import LINES
from tests.security.checklist_lines import HELD, NOT_APPLICABLE, NOT_HELD, Line


@functools.cache
def functions_of(file: str) -> frozenset[str]:
    """The tests that a file defines; none when it is not there."""
    path = PROJECT / "tests" / file
    if not path.is_file():
        return frozenset()
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return frozenset(node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef))


def gone(tests: Iterable[str]) -> list[str]:
    """The named tests that do not exist."""
    named = [test.partition("::") for test in tests]
    return [f"{file}::{name}" for file, _colons, name in named if name not in functions_of(file)]


@pytest.mark.parametrize("line", LINES, ids=str)
def test_the_tests_of_a_line_are_there(line: Line) -> None:
    assert gone(line.tests) == []


def test_a_test_that_is_gone_would_be_noticed() -> None:
    assert gone(["security/test_matrix.py::test_nothing", "security/test_none.py::test_a"]) != []
    assert gone(LINES[0].tests) == []


@pytest.mark.parametrize("line", LINES, ids=str)
def test_a_line_is_shown_or_says_why_not(line: Line) -> None:
    assert bool(line.tests) or line.standing != HELD
    assert bool(line.why) == (line.standing != HELD)
    assert all(re.match(r"(?:[a-z_]+/)*test_[a-z_]+\.py::test_[a-z_0-9]+$", test) for test in line.tests)


def test_every_chapter_that_concerns_a_server_of_pages_is_there(record_property: Any) -> None:
    numbers = [number for line in LINES for number in re.findall(r"(?:^|, )(\d+)", line.numbers)]
    assert {int(number) for number in numbers} == {*range(1, 18)}
    standing = [line.standing for line in LINES]
    counts = ", ".join(f"{standing.count(kind)} {kind}" for kind in (HELD, NOT_HELD, NOT_APPLICABLE))
    record_property("security", f"checklist: {len(LINES)} lines, {counts}")
