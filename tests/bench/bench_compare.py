"""How well a comparison uses the cores: the same tasks with one process and with two.

Run from the checkout: python -m tests.bench.bench_compare [days] [count]
Days of the demo season with its three fleets. Prints seconds, seconds of a core per task and the
parallel efficiency, (time with one) / (2 × time with two); the whole season needs DAYS 20. The
search is compiled before the clock starts.
"""

from __future__ import annotations

import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

from planner.compare.compare import Prepared, Request, compare, prepare, wanted_of
from planner.compare.run import KeptResults

SEASON = Path(__file__).resolve().parents[2] / "demo_data" / "season"


def request(days: int, count: int) -> Prepared:
    """The first days of the season with its fleets."""
    names = sorted(folder.name for folder in (SEASON / "fleets").iterdir())
    folders = {name: SEASON / "fleets" / name for name in names}
    found = prepare(Request(SEASON, folders=folders, count=count))
    return replace(found, season=replace(found.season, days=found.season.days[:days]))


def seconds(prepared: Prepared, jobs: int) -> float:
    """Wall time of all tasks, none of them kept from before."""
    with tempfile.TemporaryDirectory() as folder:
        begun = time.monotonic()
        compare(
            prepared, lambda _done, _before, _all: None, jobs=jobs, kept=KeptResults(Path(folder))
        )
        return time.monotonic() - begun


def main(days: int, count: int) -> None:
    """One run with one process, one with two."""
    begun = time.monotonic()
    prepared = request(days, count)
    read_s = time.monotonic() - begun
    tasks = len(list(wanted_of(prepared)))
    seconds(request(1, 1), 1)
    one, two = seconds(prepared, 1), seconds(prepared, 2)
    print(
        f"{tasks} tasks at count {count}: read in {read_s:.1f} s; one process {one:.1f} s "
        f"({one / tasks:.2f} s a task), two {two:.1f} s; efficiency {one / (2 * two):.2f}"
    )


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[1:]]
    main(*[*given, *(20, 40)[len(given) :]][:2])
