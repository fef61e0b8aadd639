"""How long people wait: `planner --help` against a bare Python start, and the demo day.

Run `python -m tests.bench.bench_start`. Prints seconds and ratios; asserts nothing.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time


def seconds(*command: str, times: int) -> float:
    """Median seconds of a command."""
    spent = []
    for _ in range(times):
        begun = time.perf_counter()
        subprocess.run(command, check=True, capture_output=True)
        spent.append(time.perf_counter() - begun)
    return statistics.median(spent)


def main() -> None:
    """Measure and print."""
    bare = seconds(sys.executable, "-c", "pass", times=9)
    shown = seconds(sys.executable, "-m", "planner", "--help", times=9)
    print(f"python -c pass {bare:.3f} s; planner --help {shown:.3f} s; ratio {shown / bare:.1f}")
    with tempfile.TemporaryDirectory() as folder:
        for engine in ("nearest-fit", "ortools"):
            command = ("-m", "planner", "demo", "--out", f"{folder}/{engine}", "--engine", engine)
            print(f"demo day, {engine}: {seconds(sys.executable, *command, times=3):.1f} s")


if __name__ == "__main__":
    main()
