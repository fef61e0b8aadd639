"""Our engines in a bench: solved, counted by the plain walk, and rows of the table of bars."""

from __future__ import annotations

import statistics
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from planner.routing.engines import engine_named
from planner.routing.exact.walk import walk
from planner.routing.problem import Effort, RoutingProblem, Solution, SolveOptions


@dataclass(frozen=True)
class Solved:
    """A plan of ours. cost: by the plain walk, with the price of what is left out; took_s: wall,
    processor_s: of all its threads."""

    answer: Solution
    cost: float
    left_out: int
    took_s: float
    processor_s: float


@dataclass(frozen=True)
class Bar:
    """A row of the table: figures measured, and what their median and worst may be at most (None =
    nothing is asked)."""

    name: str
    figures: tuple[float, ...]
    median_most: float | None
    worst_most: float | None = None
    text: str = "{:.4f}"

    @property
    def met(self) -> bool | None:
        """Whether the bar is met, None where there is none."""
        asked = [
            figure <= most
            for figure, most in (
                (statistics.median(self.figures), self.median_most),
                (max(self.figures), self.worst_most),
            )
            if most is not None
        ]
        return all(asked) if asked else None


def solve(
    problem: RoutingProblem, effort: Effort, seed: int = 1, engine_name: str = "search"
) -> Solved:
    """Our plan. Raises RuntimeError when it breaks a rule, or another engine would serve."""
    engine = engine_named(engine_name)
    if engine.name != engine_name:
        raise RuntimeError(f"{engine_name} cannot run here: numba is missing")
    begun, worked = time.monotonic(), time.process_time()
    answer = engine.solve(problem, SolveOptions(effort, seed))
    took_s, processor_s = time.monotonic() - begun, time.process_time() - worked
    cost = counted(problem, answer)
    return Solved(answer, cost, len(answer.unserved), took_s, processor_s)


def counted(problem: RoutingProblem, answer: Solution) -> float:
    """Money of a plan by the plain walk. Every order must be somewhere, once."""
    cost, seen = 0.0, list(answer.unserved)
    for truck, given in zip(problem.trucks, answer.routes, strict=True):
        walked = walk(problem, truck, given.loading, given.stops)
        if not walked.feasible:
            raise RuntimeError(f"truck {truck.truck_id} breaks a rule: {walked.fault}")
        cost += walked.cost
        seen += [stop.ref for stop in given.stops if stop.kind == "order"]
    if sorted(seen) != sorted(order.order_id for order in problem.orders):
        raise RuntimeError("an order is missing, or there twice")
    price = {order.order_id: order.price for order in problem.orders}
    return cost + sum(price[order_id] for order_id in answer.unserved)


def show(bars: Iterable[Bar]) -> None:
    """Print the table."""
    rows: list[Sequence[str]] = [("", "n", "median", "worst", "bar", "")]
    for bar in bars:
        asked = [
            f"{word} {bar.text.format(most)}"
            for word, most in (("median", bar.median_most), ("worst", bar.worst_most))
            if most is not None
        ]
        rows.append(
            (
                bar.name,
                str(len(bar.figures)),
                bar.text.format(statistics.median(bar.figures)),
                bar.text.format(max(bar.figures)),
                ", ".join(asked),
                {True: "met", False: "MISSED", None: ""}[bar.met],
            )
        )
    widths = [max(len(row[at]) for row in rows) for at in range(len(rows[0]))]
    for row in rows:
        print("  ".join(word.ljust(width) for word, width in zip(row, widths, strict=True)))
