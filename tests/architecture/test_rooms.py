"""The pure rooms stay pure and the clock stays at the edge, told from the source itself."""

import ast
import sys

import pytest

from tests.architecture.tree import clock_reads, imported_roots, sources

ALLOWED_BEYOND_THE_STANDARD_LIBRARY = {
    "oneonone/planner": {"oneonone"},
    "oneonone/cadence": {"oneonone", "dateutil", "holidays"},
    "oneonone/sealed": {"oneonone", "cryptography"},
}
BELOW_THE_EDGE = (
    "accounts/models",
    "accounts/services",
    "oneonone/access.py",
    "oneonone/cadence",
    "oneonone/doorbell.py",
    "oneonone/models",
    "oneonone/planner",
    "oneonone/sealed",
    "oneonone/selectors",
    "oneonone/services",
)


@pytest.mark.parametrize("room", sorted(ALLOWED_BEYOND_THE_STANDARD_LIBRARY))
def test_a_pure_room_imports_only_what_it_may(room: str) -> None:
    allowed = ALLOWED_BEYOND_THE_STANDARD_LIBRARY[room] | sys.stdlib_module_names
    seen = {file: imported_roots(tree) - allowed for file, tree in sources(room)}
    assert seen
    assert {file: names for file, names in seen.items() if names} == {}


def test_nothing_below_the_edge_asks_for_the_present() -> None:
    found = [f"{file}:{line}" for file, tree in sources(*BELOW_THE_EDGE) for line in clock_reads(tree)]
    assert found == []


def test_a_read_of_the_clock_would_be_seen() -> None:
    tree = ast.parse(
        "import datetime as dt\ndt.datetime.now(dt.UTC)\ntimezone.now()\ndate.today()\nclock.now()\n"
    )
    assert clock_reads(tree) == [2, 3, 4, 5]
