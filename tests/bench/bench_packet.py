"""How long the papers, the map and the open formats of a large day take: 10 trucks, 200 stops.

Run: python -m tests.bench.bench_packet
"""

from __future__ import annotations

import time
from dataclasses import replace

from planner.exports.files import open_files
from planner.maps.day_map import map_page
from planner.papers.packet import packet_pages
from planner.plan.model import Plan
from tests.sample_plan import sample_day, sample_legs, sample_plan, sample_streets

TRUCKS, STOPS = 10, 20


def large_plan() -> tuple[object, Plan]:
    """The sample day's first truck, ten times over, each with twenty stops of its kinds."""
    day = sample_day()
    plan = sample_plan(day)
    first = plan.trucks[0]
    kinds = [stop for stop in first.stops if stop.kind not in {"depart", "return"}]
    many = tuple(replace(kinds[row % len(kinds)], seq=row + 1) for row in range(STOPS))
    last = replace(first.stops[-1], seq=STOPS + 1)
    trucks = {f"T{number}": replace(day.workbook.trucks["T1"], truck_id=f"T{number}")
              for number in range(TRUCKS)}  # fmt: skip
    plans = tuple(
        replace(first, truck_id=name, stops=(first.stops[0], *many, last)) for name in trucks
    )
    book = replace(day.workbook, trucks=trucks)
    return replace(day, workbook=book), replace(plan, trucks=plans)


def main() -> None:
    """Print the seconds of each part."""
    day, plan = large_plan()
    legs = sample_legs(plan)
    parts = {
        "papers": lambda: packet_pages(plan, day, legs, "map.html", "0" * 10),
        "map": lambda: {"map.html": map_page(plan, day, legs, sample_streets())},
        "open formats": lambda: open_files(plan, day, legs),
    }
    whole = 0.0
    for name, make in parts.items():
        begin = time.perf_counter()
        files = make()
        took = time.perf_counter() - begin
        whole += took
        size = sum(len(text.encode()) for text in files.values())
        print(f"{name:<14}{took:6.2f} s  {len(files):>3} files  {size / 1e6:.2f} MB")
    print(f"{'all':<14}{whole:6.2f} s")


if __name__ == "__main__":
    main()
