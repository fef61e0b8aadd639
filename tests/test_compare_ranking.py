"""A season so small that the best plan of each day is proved by trying everything: the fleets'
costs are the proved ones, and so is their order."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest

from planner.compare.compare import Prepared, Request, compare, prepare, wanted_of
from planner.compare.run import KeptResults
from planner.compliance.holds import holds, order_windows
from planner.mixing.recipes import order_gal, recipes
from planner.mixing.separation import separation
from planner.prepare import without_edges
from planner.routing.build import build_problem
from planner.routing.compiled.python_api import place_refills
from planner.routing.exact.route_cost import DayTables, TruckDay
from planner.routing.loading.allowed import loadings
from planner.routing.problem import RoutingProblem
from tests.seasons import edit, fleet_folder, season_folder

COUNT = 12
"""Effort that finds the best plan of days of three or four orders."""


@pytest.fixture(scope="module")
def prepared(tmp_path_factory: pytest.TempPathFactory) -> Prepared:
    base = tmp_path_factory.mktemp("season")
    workbook = season_folder(base / "office")
    # What is proved here is money; the wish for compact days would be priced beside it.
    with (workbook / "settings.csv").open("a", encoding="utf-8") as file:
        file.write("compact_price,0\n")
    (workbook / "fleet.toml").write_text("working_days = 100\n", encoding="utf-8")
    names = ("truck-1", "truck-2")
    folders = {
        "first": fleet_folder(workbook, base / "first", names[:1]),
        "second": fleet_folder(workbook, base / "second", names[1:]),
        "thirsty": fleet_folder(
            workbook, base / "thirsty", names[:1], "[each_truck]\npurchase = 0\nlife_years = 1\n"
        ),
        "short": fleet_folder(workbook, base / "short", names[:1]),
    }
    for tank, gal in (("front", 200), ("rear", 120)):
        edit(folders["thirsty"] / "compartments.csv", f"{tank},{gal},", f"{tank},{gal // 3},")
    # A short working day, and cheap: it must leave orders out and must not win by that.
    edit(folders["short"] / "trucks.csv", "4:30 PM,60,30", "8:55 AM,0,0")
    edit(folders["short"] / "trucks.csv", ",60\n", ",1\n")
    return prepare(Request(workbook, folders=folders, engine="ortools", count=COUNT, seeds=1))


def problem_of(prepared: Prepared, fleet: str, date: str) -> RoutingProblem:
    (day,) = {
        one.day.date: one.day
        for one in wanted_of(prepared)
        if (one.fleet, one.day.date.isoformat()) == (fleet, date)
    }.values()
    day = without_edges(day)
    book = day.workbook
    assert not holds(day)
    need_gal: dict[str, float] = {}
    for order in day.orders.values():
        need_gal[order.mix_id] = need_gal.get(order.mix_id, 0.0) + order_gal(book, order)
    apart = separation(book)
    return build_problem(
        day,
        recipes(book),
        {name: order_windows(day, order) for name, order in day.orders.items()},
        (),
        prepared.ways.travel(day),
        {name: loadings(book, truck, apart, need_gal) for name, truck in book.trucks.items()},
    )


def proved(problem: RoutingProblem) -> tuple[float, int]:
    """Least cost of the trucks and prices of orders left out, over every loading, every division
    of the orders among the trucks (or none) and every sequence; and how many are left out."""
    tables = DayTables(problem)
    rows = range(len(problem.orders))
    sets = [
        frozenset(c) for size in range(len(rows) + 1) for c in itertools.combinations(rows, size)
    ]
    best_of: list[dict[frozenset[int], float]] = []
    for at, truck in enumerate(problem.trucks):
        best = {frozenset[int](): 0.0}
        for loading in truck.loadings:
            day = TruckDay(tables, at, loading)
            for some in sets[1:]:
                if all(day.can[row] for row in some):
                    for sequence in itertools.permutations(some):
                        found = place_refills(day, sequence, under_cost=best.get(some, 1e9))
                        if found is not None:
                            best[some] = found[0]
        best_of.append(best)
    prices = [order.price for order in problem.orders]

    def best_with(truck: int, free: frozenset[int]) -> tuple[float, int]:
        if truck == len(best_of):
            return sum(prices[row] for row in free), len(free)
        found = []
        for some, cost in best_of[truck].items():
            if some <= free:
                rest, left_out = best_with(truck + 1, free - some)
                found.append((cost + rest, left_out))
        return min(found)

    return best_with(0, frozenset(rows))


def test_costs_and_order_are_the_proved_ones(prepared: Prepared, tmp_path: Path) -> None:
    found = compare(prepared, lambda _done, _before, _all: None, jobs=2, kept=KeptResults(tmp_path))
    totals: dict[str, tuple[int, float]] = {}
    for fleet in found.fleets:
        left_out, money = 0, 0.0
        for day in fleet.days:
            problem = problem_of(prepared, fleet.name, day.date)
            cost, missing = proved(problem)
            price = {order.order_id: order.price for order in problem.orders}
            ours = day.totals.cost - day.between.cost + sum(price[name] for name in day.left_out)
            assert ours >= cost - 1e-6, (
                "cheaper than the proved best: the proof or a price is wrong"
            )
            assert ours <= cost * 1.002, (fleet.name, day.date)
            assert len(day.left_out) == missing
            left_out += missing > 0
            money += cost - sum(price[name] for name in day.left_out) + day.between.cost
        totals[fleet.name] = (left_out, money)
    assert totals["short"][0] > 0
    assert totals["short"][1] < min(cost for name, (_, cost) in totals.items() if name != "short")
    by_proof = sorted(totals, key=lambda name: totals[name])
    by_us = sorted(found.fleets, key=lambda fleet: fleet.rank or 99)
    assert [fleet.name for fleet in by_us] == by_proof
    assert found.fleet("short").rank == len(totals), "leaving orders out is no way to win"
    assert found.fleet("short").unserved_dates
