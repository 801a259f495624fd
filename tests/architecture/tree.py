"""The source as the architecture tests see it: parsed files of the project's own packages."""

import ast
from collections.abc import Iterator
from pathlib import Path

PROJECT = Path(__file__).resolve().parent.parent.parent
PACKAGES = ("accounts", "oneonone", "tasks")
CLOCK_READS = {
    ("clock", "now"),
    ("date", "today"),
    ("datetime", "now"),
    ("datetime", "today"),
    ("datetime", "utcnow"),
    ("time", "time"),
    ("time", "time_ns"),
    ("timezone", "localdate"),
    ("timezone", "now"),
}


def sources(*rooms: str, root: Path = PROJECT) -> Iterator[tuple[Path, ast.Module]]:
    """Each Python file of the rooms (folders or files below the project), parsed; migrations left out."""
    for room in rooms:
        place = root / room
        files = sorted(place.rglob("*.py")) if place.is_dir() else [place]
        for file in files:
            if "migrations" not in file.parts:
                yield file.relative_to(root), ast.parse(file.read_text(encoding="utf-8"), filename=str(file))


def imported_roots(tree: ast.Module) -> set[str]:
    """The top-level names of everything a file imports absolutely."""
    found: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {alias.name.partition(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            found.add(node.module.partition(".")[0])
    return found


def clock_reads(tree: ast.Module) -> list[int]:
    """Lines on which a file asks for the present: datetime.now, date.today, time.time and such."""
    return [
        node.lineno
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and (_owner(node.func.value), node.func.attr) in CLOCK_READS
    ]


def _owner(node: ast.expr) -> str:
    """The last name before the call's own: `datetime` in `dt.datetime.now()`."""
    if isinstance(node, ast.Attribute):
        return node.attr
    return node.id if isinstance(node, ast.Name) else ""
