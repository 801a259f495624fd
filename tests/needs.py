"""What some tests need beyond Python, what happens where it is missing, and the summary that says so.

By default such tests are left out and the end of the run names them with the reason. With
ONEONONE_REQUIRE_ALL=1, as in CI, a missing program is an error and a skipped test fails the run.
"""

import os
import shutil
from collections import Counter
from collections.abc import Callable, Iterable

import pytest
from _pytest.terminal import TerminalReporter

from tests.engines import throwaway
from tests.settings import ENGINE

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
REQUIRE_ALL = os.environ.get("ONEONONE_REQUIRE_ALL") == "1"


def chromium() -> str | None:
    """The browser of this machine: what CHROMIUM names, or one on the path."""
    return os.environ.get("CHROMIUM") or next(filter(None, map(shutil.which, BROWSERS)), None)


def _without_browser() -> str:
    return "" if chromium() else "Chromium is not on this machine"


def _without_services() -> str:
    lacking = throwaway.missing()
    return f"not on this machine: {', '.join(lacking)}" if lacking else ""


NEEDS: dict[str, Callable[[], str]] = {"browser": _without_browser, "services": _without_services}
ENGINES = ("sqlite", "postgresql")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--engine",
        choices=ENGINES,
        default="sqlite",
        help="SQLite, or PostgreSQL and Redis started for the run (default: %(default)s)",
    )


def pytest_configure(config: pytest.Config) -> None:
    # tests/settings.py has looked for the option by itself; a spelling it does not see is refused.
    if not hasattr(config, "workerinput") and config.getoption("--engine") != ENGINE:
        raise pytest.UsageError("Give the engine on the command line, in one word: --engine=postgresql")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out the tests of the other engine, and those whose programs are missing."""
    for other in [engine for engine in ENGINES if engine != ENGINE]:
        _leave_out(config, items, other, f"only runs with --engine={other}", deselect=REQUIRE_ALL)
    for marker, why_not in NEEDS.items():
        if (reason := why_not()) and not REQUIRE_ALL:
            _leave_out(config, items, marker, reason, deselect=False)
        elif reason and any(item.get_closest_marker(marker) for item in items):
            raise pytest.UsageError(f"ONEONONE_REQUIRE_ALL is set, but: {reason}")


def _leave_out(
    config: pytest.Config, items: list[pytest.Item], marker: str, reason: str, *, deselect: bool
) -> None:
    marked = [item for item in items if item.get_closest_marker(marker)]
    if deselect:
        config.hook.pytest_deselected(items=marked)
        items[:] = [item for item in items if item not in set(marked)]
        return
    for item in marked:
        item.add_marker(pytest.mark.skip(reason=reason))


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session, exitstatus: int) -> None:
    if REQUIRE_ALL and exitstatus == pytest.ExitCode.OK and any(_reasons(session.config)):
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_terminal_summary(terminalreporter: TerminalReporter, config: pytest.Config) -> None:
    reasons = Counter(_reasons(config))
    if not reasons:
        return
    terminalreporter.section("left out", sep="-")
    for reason, number in sorted(reasons.items()):
        terminalreporter.write_line(f"{number} {'test' if number == 1 else 'tests'}: {reason}")
    if REQUIRE_ALL:
        terminalreporter.write_line(
            "ONEONONE_REQUIRE_ALL is set: leaving a test out fails the run.", red=True
        )


def _reasons(config: pytest.Config) -> Iterable[str]:
    reporter: TerminalReporter | None = config.pluginmanager.get_plugin("terminalreporter")
    for report in reporter.stats.get("skipped", []) if reporter else []:
        if isinstance(report.longrepr, tuple):
            yield report.longrepr[2].removeprefix("Skipped: ")
