"""Plans and papers to the byte: what a change that should change nothing leaves as it was.

Run `python -m tests.bench.same_bytes FOLDER` on the one state and with `--against FOLDER` and
another folder on the other: the demo day, a day of the demo season and three random days, each with
nearest-fit and ortools; plan.json, papers, map and open formats. Ends with exit code 1 when a file
differs, and names it. Machine marks of a map (32 hexadecimal digits) are left out of account.
"""

from __future__ import annotations

import argparse
import re
import sys
import tempfile
from collections.abc import Iterator
from datetime import date
from pathlib import Path

from planner.chain import open_day_to_plan, plan_day
from planner.cli.demo import DEMO_DATE, DEMO_SEASON, DEMO_WORKBOOK
from planner.day.day import Day
from planner.day_files import day_files
from planner.day_roads import DayRoads, open_day_roads
from planner.routing.problem import Effort, SolveOptions
from tests.random_days import random_day

SEASON_DATE = date(2027, 4, 20)
SEEDS = (11, 12, 13)
ENGINES = ("nearest-fit", "ortools")
MARKS = re.compile(rb"[0-9a-f]{32}")


def days() -> Iterator[tuple[str, Day, DayRoads]]:
    """(name, day, its roads)."""
    for name, book, when in (
        ("demo", DEMO_WORKBOOK, DEMO_DATE),
        ("season", DEMO_SEASON, SEASON_DATE),
    ):
        day = open_day_to_plan(book, when)
        yield name, day, open_day_roads(book, day, None)
    with tempfile.TemporaryDirectory() as empty:
        for seed in SEEDS:
            day = random_day(seed, 14)
            yield f"random-{seed}", day, open_day_roads(Path(empty), day, None)


def write_all(folder: Path, count: int) -> None:
    """Every file of every day, in a folder per day and engine; the quick engine first."""
    every = list(days())
    for engine in ENGINES:
        for name, day, roads in reversed(every):
            planned = plan_day(day, roads, SolveOptions(Effort(count=count), engine=engine))
            place = folder / f"{name}-{engine}"
            place.mkdir(parents=True)
            for file, text in day_files(planned).items():
                (place / file).write_bytes(text.encode())
            print(f"{place.name}: ${planned.plan.totals.totals.cost:,.2f}", flush=True)


def different(one: Path, other: Path) -> list[str]:
    """Files that are in one folder alone, or not the same in both."""
    files = {
        root: {path.relative_to(root): path for path in root.rglob("*") if path.is_file()}
        for root in (one, other)
    }
    a, b = files[one], files[other]
    found = {path for path in a.keys() & b.keys() if _plain(a[path]) != _plain(b[path])}
    return sorted(map(str, found | (a.keys() ^ b.keys())))


def _plain(path: Path) -> bytes:
    return MARKS.sub(b"", path.read_bytes())


def main() -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--against", type=Path)
    parser.add_argument("--count", type=int, default=1)
    asked = parser.parse_args()
    write_all(asked.folder, asked.count)
    if asked.against is None:
        return 0
    found = different(asked.against, asked.folder)
    print("\n".join(found) or "every file is the same")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
