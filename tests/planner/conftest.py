"""The markers of the planner's tests. Long comparisons run only when asked for by their marker."""

import pytest


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line("markers", "planner_long: long comparisons, run by -m planner_long")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave the long comparisons to a run that names them, and say so in the count of deselected tests."""
    if "planner_long" in config.getoption("markexpr"):
        return
    long = [item for item in items if item.get_closest_marker("planner_long")]
    if long:
        config.hook.pytest_deselected(items=long)
        items[:] = [item for item in items if item not in long]
