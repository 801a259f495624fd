"""The arrows between the rooms hold, and the contracts that hold them would notice a wrong one."""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.architecture.tree import PACKAGES, PROJECT

LINT = "import sys; from importlinter.cli import lint_imports; sys.exit(lint_imports(no_cache=True))"


def lint(project: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", LINT], cwd=project, capture_output=True, text=True, timeout=120, check=False
    )


def test_every_arrow_holds() -> None:
    result = lint(PROJECT)
    assert result.returncode == 0, result.stdout[-4000:]


@pytest.mark.parametrize(
    ("room", "wrong_import", "contract"),
    [
        ("oneonone/models", "oneonone.services", "Faces over services"),
        ("oneonone/services", "oneonone.access", "Faces over services"),
        ("oneonone/selectors", "oneonone.web", "Faces over services"),
        ("oneonone/planner", "django.db", "know no framework"),
        ("oneonone/cadence", "oneonone.sealed", "do not know each other"),
        ("oneonone/web", "oneonone.planner", "services and selectors only"),
        ("oneonone/web", "oneonone.sealed", "models, services and selectors only"),
        ("oneonone/web", "oneonone.doorbell", "rung by services"),
        ("accounts", "oneonone.environment", "Accounts know nothing"),
        ("oneonone/services", "oneonone.clock", "Only the edge"),
    ],
)
def test_a_wrong_arrow_is_noticed(room: str, wrong_import: str, contract: str, tmp_path: Path) -> None:
    for package in PACKAGES:
        shutil.copytree(
            PROJECT / package, tmp_path / package, ignore=shutil.ignore_patterns("static", "templates")
        )
    shutil.copy(PROJECT / "pyproject.toml", tmp_path)
    (tmp_path / room / "wrong_turn.py").write_text(f"import {wrong_import}\n", encoding="utf-8")
    result = lint(tmp_path)
    assert result.returncode == 1, result.stdout[-4000:]
    broken = [line for line in result.stdout.splitlines() if "BROKEN" in line]
    assert any(contract in line for line in broken), broken
