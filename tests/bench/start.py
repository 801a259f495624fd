"""How long from the command to the first page, and how much memory: python tests/bench/start.py [RUNS]

Each run is a first start in an empty folder and a second start in the same one. The floor beside them,
measured in the same run, is the time in which the same interpreter loads the same settings and applications.
"""

import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

PROJECT = Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(PROJECT))

from tests.serving.running import clean_environment, serve  # noqa: E402


def floor_seconds(data: Path) -> float:
    began = time.monotonic()
    subprocess.run(
        [sys.executable, "-c", "import django; django.setup()"],
        cwd=PROJECT,
        env=clean_environment({"DJANGO_SETTINGS_MODULE": "oneonone.settings", "ONEONONE_DATA": str(data)}),
        check=True,
    )
    return time.monotonic() - began


def start(data: Path) -> tuple[float, float]:
    """Seconds from the command to the first page, and resident megabytes after twenty pages."""
    with serve("--demo", "--data", str(data), "--port", "0") as server:
        assert server.get("/account/login/")[0] == 200
        seconds = time.monotonic() - server.began
        for _ in range(20):
            server.get("/account/login/")
        return seconds, server.resident_megabytes()


def main(runs: int) -> None:
    rows: list[tuple[float, float, float, float]] = []
    for _ in range(runs):
        data = Path(tempfile.mkdtemp(prefix="oneonone-bench-"))
        floor = floor_seconds(data)
        (first, _), (second, megabytes) = start(data), start(data)
        rows.append((floor, first, second, megabytes))
        shutil.rmtree(data)
    floor, first, second, megabytes = (statistics.median(column) for column in zip(*rows, strict=True))
    sys.stdout.write(
        f"floor: settings and applications loaded   {floor:6.2f} s\n"
        f"first start to first page                 {first:6.2f} s   {first / floor:4.1f} floors\n"
        f"second start to first page                {second:6.2f} s   {second / floor:4.1f} floors\n"
        f"resident after twenty pages               {megabytes:6.0f} MB\n"
    )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 3)
