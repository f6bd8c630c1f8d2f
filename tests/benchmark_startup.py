"""Prints what a start costs; no test, since machines differ: ``python tests/benchmark_startup.py``.

Goals: ``forecast --help`` under 150 ms of CPU, ``forecast morning`` on the demo under 1.5 s on the clock, cold.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

RUNS = 7


def measure(arguments: list[str]) -> tuple[float, float]:
    """Median CPU and wall seconds of a command over some runs, each a fresh process."""
    cpu, wall = [], []
    for _ in range(RUNS):
        before, start = os.times(), time.perf_counter()
        subprocess.run([sys.executable, "-m", "forecast", *arguments], check=True, stdout=subprocess.DEVNULL)
        after = os.times()
        wall.append(time.perf_counter() - start)
        cpu.append(after.children_user + after.children_system - before.children_user - before.children_system)
    return statistics.median(cpu), statistics.median(wall)


def main() -> None:
    """Measure help, the three forms of the morning page, and making the demo."""
    with tempfile.TemporaryDirectory() as folder:
        demo = str(Path(folder) / "demo")
        subprocess.run([sys.executable, "-m", "forecast", "start", "--demo", demo], check=True, capture_output=True)
        rows = {
            "--help": ["--help"],
            "morning, text": ["morning", "-w", demo],
            "morning, JSON": ["morning", "-w", demo, "--json"],
            "morning, HTML": ["morning", "-w", demo, "--html", str(Path(folder) / "page.html")],
        }
        sys.stdout.write(f"{'command':<16}{'CPU s':>8}{'wall s':>8}   medians of {RUNS} runs\n")
        for name, arguments in rows.items():
            cpu, wall = measure(arguments)
            sys.stdout.write(f"{name:<16}{cpu:>8.3f}{wall:>8.3f}\n")


if __name__ == "__main__":
    main()
