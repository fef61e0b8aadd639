"""How much of a plan's cost is luck: the same day planned with ten seeds at the default effort.

    python -m tests.bench.bench_seeds    # three days each of 60, 100 and 120 orders
    python -m tests.bench.bench_seeds --cell 100:6 --days 1

Days that nothing was tuned on (bench_pyvrp.FRESH). Prints each day's standard deviation and
range over the mean, in percent, then the median and the worst day.
"""

from __future__ import annotations

import argparse
import statistics
from collections.abc import Iterator, Sequence

from planner.cli.common import DEFAULT_EFFORT_COUNT
from planner.routing.problem import Effort
from tests.bench.bench_pyvrp import FRESH, warm_up
from tests.bench.instances import as_problem, bench_day
from tests.bench.ours import Bar, show, solve

CELLS = ("60:4", "100:6", "120:7")
SPREAD_MOST = 0.4
"""Percent of the mean."""


def bars(cells: Sequence[str], days: int, seeds: int, count: int) -> Iterator[Bar]:
    """A row for each size (orders:trucks), as it is done."""
    warm_up()
    for cell in cells:
        orders, trucks = map(int, cell.split(":"))
        spreads = []
        for day in range(FRESH, FRESH + days):
            problem = as_problem(bench_day(orders, trucks, day))
            costs = [solve(problem, Effort(count=count), seed).cost for seed in range(seeds)]
            mean = statistics.mean(costs)
            spreads.append(100 * statistics.stdev(costs) / mean)
            reach = 100 * (max(costs) - min(costs)) / mean
            print(
                f"{orders}/{trucks} day {day}: mean {mean:.0f}, standard deviation "
                f"{spreads[-1]:.2f} %, from least to most {reach:.2f} %",
                flush=True,
            )
        name = f"{orders} orders / {trucks} trucks, spread of {seeds} seeds, %"
        yield Bar(name, tuple(spreads), SPREAD_MOST, SPREAD_MOST, text="{:.2f}")


def main() -> None:
    """The bench as a command."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--cell", action="append", help="orders:trucks")
    parser.add_argument("--days", type=int, default=3)
    parser.add_argument("--seeds", type=int, default=10)
    parser.add_argument("--count", type=int, default=DEFAULT_EFFORT_COUNT)
    options = parser.parse_args()
    show(bars(options.cell or CELLS, options.days, options.seeds, options.count))


if __name__ == "__main__":
    main()
