"""The least money of a small day: every loading, every sharing out of the orders among
trucks, every sequence and every placement of refills and lunch.

Sequences are built order by order and dropped only when a bound on the money, worked here from the
problem's figures, says that nothing cheaper than what is known can come of them. Placements are
proved, which test_routing_refills holds against trying all and against rules worked apart.
"""

from __future__ import annotations

from math import inf

from planner.routing.compiled.python_api import place_refills
from planner.routing.exact.route_cost import DayTables, TruckDay
from planner.routing.problem import RoutingProblem

NOISE = 1e-7


def least_money(problem: RoutingProblem, known: float) -> float:
    """The optimum, with the prices of orders left out, where it is below `known`; else `known`.

    known: money of some plan; the better it is, the sooner this ends.
    """
    return _Day(problem, known).least()


class _Day:
    """Sets of orders are whole numbers, a bit for each row of problem.orders."""

    def __init__(self, problem: RoutingProblem, known: float) -> None:
        self.problem, self.known = problem, known
        self.price = [order.price for order in problem.orders]
        self.everything = (1 << len(self.price)) - 1
        tables = DayTables(problem)
        self.days = [
            [TruckDay(tables, row, loading) for loading in truck.loadings]
            for row, truck in enumerate(problem.trucks)
        ]
        self.at_least = [
            min(
                [
                    self.price[row],
                    *(
                        day.spray_min[row] * day.truck.pay_per_min
                        for days in self.days
                        for day in days
                        if day.can[row]
                    ),
                ]
            )
            for row in range(len(self.price))
        ]
        """Money that an order costs wherever it is done or if it is left out."""

    def elsewhere(self, mine: int) -> float:
        """Least money of the orders that are not in a set."""
        return sum(money for row, money in enumerate(self.at_least) if not mine & (1 << row))

    def least(self) -> float:
        """Trucks one by one: the least money with which the trucks so far do each set."""
        so_far = {0: 0.0}
        for days in self.days:
            mine: dict[int, float] = {0: 0.0}
            for day in days:
                _Sequences(self, day, mine).grow([], 0, 0.0)
            joined: dict[int, float] = {}
            for before, money in so_far.items():
                for more, cost in mine.items():
                    if not before & more:
                        both = before | more
                        joined[both] = min(joined.get(both, inf), money + cost)
            so_far = joined
        best = min(
            money + sum(price for row, price in enumerate(self.price) if not done & (1 << row))
            for done, money in so_far.items()
        )
        return min(best, self.known)


class _Sequences:
    """All sequences of one truck with one loading; `cheapest` gets the money of each set."""

    def __init__(self, whole: _Day, day: TruckDay, cheapest: dict[int, float]) -> None:
        self.whole, self.day, self.cheapest = whole, day, cheapest
        self.can = [row for row, can in enumerate(day.can) if can]

    def grow(self, sequence: list[int], mine: int, on_the_way: float) -> None:
        """Price a sequence, and all that begin with it. on_the_way: least money of getting to and
        doing its orders."""
        day, truck = self.day, self.day.truck
        here = day.place[sequence[-1]] if sequence else day.yard_place
        if sequence:
            room = self.whole.known - self.whole.elsewhere(mine) + NOISE
            under = min(self.cheapest.get(mine, inf), room)
            found = place_refills(day, sequence, under_cost=under, prove=True)
            if found is not None:
                self.cheapest[mine] = found[0]
        for row in self.can:
            if mine & (1 << row):
                continue
            there = day.place[row]
            minutes = day.minutes[here][there] + day.spray_min[row]
            if not sequence or there != here:
                minutes += day.setup_min
            money = (
                on_the_way
                + minutes * truck.pay_per_min
                + day.miles[here][there] * truck.cost_per_mile
            )
            with_it = mine | (1 << row)
            bound = day.day_cost + money + self.whole.elsewhere(with_it)
            if bound <= self.whole.known:
                self.grow([*sequence, row], with_it, money)
