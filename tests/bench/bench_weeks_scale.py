"""A calendar of branch scale: 2,000 orders, 20 working days, 10 trucks at 3 yards.

Usage: python -m tests.bench.bench_weeks_scale [--orders 2000] [--effort 10] [--branches]

Invented: the demo season's orders and lawns, more of them moved a little, its trucks twice, at
three yards. Whole, or each yard by itself, all at once as `planner weeks --branches` does; on an
idle machine the seconds are those that an office waits.
"""

from __future__ import annotations

import argparse
import random
import time
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

from planner.chain import checked_workbook, open_day_roads
from planner.compare.run import cores, planned
from planner.day.day import Day
from planner.routing.problem import Effort, SolveOptions
from planner.weeks.audit import calendar_faults
from planner.weeks.branches import BranchTask, branches, lay_branch, merged
from planner.weeks.lay import Horizon, make_calendar
from planner.weeks.open_days import working_days
from tests.bench.bench_weeks import FIRST, SEASON

MOVED_DEG = 0.15
SPAN_DAYS = (3, 12)


def big_horizon(count: int, days: int) -> Horizon:
    """So many orders over so many days; every order may be done on several of them."""
    book, chance = checked_workbook(SEASON), random.Random(5)
    yard = next(site for site in book.sites.values() if site.kind.value == "yard")
    sites = book.sites | {
        f"Y{at}": replace(yard, site_id=f"Y{at}", lon=yard.lon + MOVED_DEG * at) for at in (1, 2)
    }
    yards = [yard.site_id, "Y1", "Y2"]
    trucks = {}
    for again in range(2):
        for name, truck in book.trucks.items():
            own = f"{name}{'abc'[again]}"
            trucks[own] = replace(truck, truck_id=own, yard_id=yards[len(trucks) % 3])
    homes, orders = {}, {}
    open_on = working_days(book.settings, FIRST, days)[0]
    source = list(book.orders.values())
    for at in range(count):
        order = source[at % len(source)]
        home = book.properties[order.property_id]
        name = f"H{at}"
        homes[name] = replace(
            home,
            property_id=name,
            lat=home.lat + chance.gauss(0.0, 0.01),
            lon=home.lon + chance.gauss(0.0, 0.01) + MOVED_DEG * chance.randrange(3),
        )
        first = chance.choice(open_on[:-2])
        orders[f"O{at}"] = replace(
            order,
            order_id=f"O{at}",
            property_id=name,
            due_from=first,
            due_to=first + timedelta(days=chance.randint(*SPAN_DAYS)),
        )
    book = replace(
        book, sites=sites, trucks=trucks, properties=homes, orders=orders, history=(), weather=()
    )
    day = Day(open_on[0], book, orders)
    # A folder that is not there names no roads: straight lines.
    return Horizon(day, open_on, {}, open_day_roads(Path("none") / "office", day, None))


def main() -> None:
    """Lay it and say what came out."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--orders", type=int, default=2000)
    ask.add_argument("--days", type=int, default=20)
    ask.add_argument("--effort", type=int, default=10)
    ask.add_argument("--branches", action="store_true")
    given = ask.parse_args()
    begun = time.process_time()
    horizon = big_horizon(given.orders, given.days)
    print(f"{time.process_time() - begun:.0f} CPU s for tables and times", flush=True)
    parts = branches(horizon)
    options = SolveOptions(Effort(count=given.effort))
    begun = time.perf_counter()
    if given.branches:
        tasks = [BranchTask(part, options) for part in parts]
        done = dict(planned(tasks, lay_branch, jobs=min(2 * cores(), len(tasks))))
        made = merged([done[place] for place in range(len(tasks))], horizon)
    else:
        made = make_calendar(horizon, options)
    print(f"{time.perf_counter() - begun:.0f} s", flush=True)
    late = sum(row.overdue_days > 0 for share in made.shares for row in share.orders)
    print(
        f"{len(made.day_of)} orders on {len(made.shares)} truck-days, {len(made.waiting)} waiting "
        f"({sum(row.code == 'FULL' for row in made.waiting)} full), {late} late; "
        f"${made.cost:,.0f}, {made.miles:,.0f} miles; "
        f"faults: {calendar_faults(made, horizon.day)[:3]}"
    )


if __name__ == "__main__":
    main()
