"""The arithmetic knows no framework and no clock."""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from pathlib import Path

import oneonone.cadence

ALLOWED = {"dateutil", "holidays", "oneonone.cadence"}
CLOCKS = {"now", "today", "utcnow", "monotonic", "perf_counter", "time_ns", "localtime", "gmtime"}
FILES = sorted(Path(oneonone.cadence.__file__).parent.glob("*.py"))


def imported(tree: ast.AST) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield node.module or ""


def strangers(source: str) -> set[str]:
    names = set(imported(ast.parse(source)))
    return {
        name
        for name in names
        if name.split(".")[0] not in sys.stdlib_module_names
        and not any(name == one or name.startswith(f"{one}.") for one in ALLOWED)
    }


def clocks_read(source: str) -> set[str]:
    calls = (node.func for node in ast.walk(ast.parse(source)) if isinstance(node, ast.Call))
    return {call.attr for call in calls if isinstance(call, ast.Attribute) and call.attr in CLOCKS}


def test_only_the_standard_library_and_two_date_libraries_are_imported() -> None:
    assert len(FILES) > 10
    assert {file.name: found for file in FILES if (found := strangers(file.read_text()))} == {}


def test_no_clock_is_read() -> None:
    assert {file.name: found for file in FILES if (found := clocks_read(file.read_text()))} == {}


def test_both_guards_see_what_they_guard_against() -> None:
    assert strangers("import django.utils\nfrom oneonone.models import Line\nfrom datetime import date") == {
        "django.utils",
        "oneonone.models",
    }
    assert clocks_read("from datetime import date\nday = date.today()") == {"today"}
