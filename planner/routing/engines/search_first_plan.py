"""The first part of the planner's engine: loadings of the fleet, each tried by a short search, and
the plan from which the annealing begins."""

import math
from copy import copy
from typing import NamedTuple

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import day_arrays
from planner.routing.effort import Spending
from planner.routing.engines.nearest_fit import largest_need_first
from planner.routing.engines.ortools_model import SearchLimit, sequences
from planner.routing.engines.searched import loadings_of
from planner.routing.exact.route_cost import DayTables, TruckDay
from planner.routing.loading.allowed import standing_loadings
from planner.routing.loading.assign import choose_loadings
from planner.routing.problem import RoutingProblem, at_worth
from planner.routing.repair.draft import Draft
from planner.routing.search.parallel import Searcher, SearchLeg, plan_of, run_together
from planner.routing.tuning import Tuning
from planner.routing.unserved.reasons import impossible


class Legs:
    """Legs that searches run side by side, cut from the effort of one solve. steps: of the whole
    effort, None = it goes by the clock."""

    def __init__(self, spending: Spending, tuning: Tuning, threads: int) -> None:
        self.spending, self.threads = spending, threads
        count = spending.effort.count
        self.steps = None if count is None else count * tuning.search_steps_per_count

    def leg(
        self, begin: float, end: float, share: float, done: float, reload_chance: float
    ) -> SearchLeg:
        """One that takes `share` of the effort, and by the clock ends when `done` of it is."""
        steps = None if self.steps is None else max(1, math.ceil(share * self.steps))
        return SearchLeg(begin, end, steps, self.spending.until(done), reload_chance)

    def run(
        self, searchers: list[Searcher], legs: list[SearchLeg], heat: float, share: float, text: str
    ) -> None:
        """A leg of each search. share, text: to tell."""
        spending = self.spending
        run_together(
            searchers,
            legs,
            heat,
            lambda: spending.stopped,
            lambda: spending.tell(share, text),
            self.threads,
        )


class FirstPlan(NamedTuple):
    """What the annealing begins with. searchers: two searches that have a plan, the second perhaps
    OR-Tools'; first_load: by truck, the row of its first loading; tried: cost, loading rows and
    stops that each fleet loading gave in a short search, the best first; spent: share of the
    effort."""

    searchers: list[Searcher]
    first_load: list[int]
    tried: list[tuple[float, list[int], list[list[int]]]]
    spent: float


def first_plan(problem: RoutingProblem, tables: DayTables, legs: Legs, seed: int) -> FirstPlan:
    """Loadings and a plan. A day on which everything fits is planned the same whatever days its
    orders have left; else today's prices say what is left out. tables: of the problem."""
    level = at_worth(problem)
    made = _Tried(level, tables, legs, seed, 0.0)
    if level is not problem and made.leaves_out():
        made = _Tried(problem, tables, legs, seed, made.spent)
    made.ask_ortools()
    return FirstPlan(made.searchers, made.first_load, made.tried, made.spent)


class _Tried:
    """Fleet loadings tried at the prices of a problem. tables: of one that differs in prices only;
    spent: share of the effort before and, then, after."""

    def __init__(
        self, problem: RoutingProblem, tables: DayTables, legs: Legs, seed: int, spent: float
    ) -> None:
        self.problem, self.legs, self.seed, self.spent = problem, legs, seed, spent
        self.spending, self.tuning = legs.spending, problem.tuning
        self.tables = copy(tables)
        self.tables.problem = problem
        self.tried: list[tuple[float, list[int], list[list[int]]]] = []
        day = day_arrays(problem)
        self.first_load: list[int] = day.truck_at[:, c.FIRST_LOAD].tolist()
        loadings = self._loadings()
        most = self.tuning.search_seen_days
        # Both kinds of new loadings together depend less on luck than two searches alike.
        tuning = day.tuning.copy()
        tuning[c.ALIKE_CHANCE] = 0.0
        days = day._replace(tuning=tuning), day
        self.searchers = [
            Searcher(one, 2 * seed + at, self.tuning, most) for at, one in enumerate(days)
        ]
        self._try(loadings)

    def leaves_out(self) -> bool:
        """Whether the first plan leaves out an order that could be done: then it matters which."""
        _, loads, stops = self.tried[0]
        loadings = loadings_of(self.problem, self.first_load, loads)
        draft = Draft(self.tables, loadings, self.spending.stop)
        served = {stop for order in stops for stop in order}
        return any(
            order not in served and impossible(draft, order) is None for order in draft.unserved
        )

    def _loadings(self) -> list[list[int]]:
        """Loading rows of the fleet loadings to try, without repeats."""
        if all(len(truck.loadings) == 1 for truck in self.problem.trucks):
            return [self.first_load]
        stop = self.spending.stop
        greedy = [
            largest_need_first(self.problem, stop, tankfuls)
            for tankfuls in self.tuning.search_tankfuls
        ]
        rules = [standing_loadings(self.problem, exchanged=turned) for turned in (False, True)]
        proposed = choose_loadings(
            self.problem, self.tuning.search_loadings, self.seed, stop, greedy[0]
        )
        found = [*greedy, *rules, *proposed]
        different: list[list[int]] = []
        for fleet in found:
            rows = [
                first + truck.loadings.index(loading)
                for first, truck, loading in zip(
                    self.first_load, self.problem.trucks, fleet, strict=True
                )
            ]
            if rows not in different:
                different.append(rows)
        return different

    def _try(self, loadings: list[list[int]]) -> None:
        """A short search from nothing for each loading, two at a time; both searchers are left with
        the best plan, and all are remembered, the best first."""
        nothing: list[list[int]] = [[] for _ in self.problem.trucks]
        pairs = [loadings[at : at + 2] for at in range(0, len(loadings), 2)]
        begun = self.spent
        for turn, pair in enumerate(pairs):
            done = begun + self.tuning.search_trial_share * (turn + 1)
            for at, searcher in enumerate(self.searchers):
                searcher.start_from(pair[min(at, len(pair) - 1)], nothing)
            # From nothing, the first step inserts every order; its plan says what an order costs.
            # (A stop waits for it: without it there is no plan.)
            first = SearchLeg(1.0, 1.0, 1, None, 0.0)
            run_together(self.searchers, [first] * 2, 1e-3, threads=self.legs.threads)
            heat = min(searcher.order_money() for searcher in self.searchers)
            leg = self.legs.leg(0.5, 1.0, self.tuning.search_trial_share, done, 0.0)
            self.legs.run(self.searchers, [leg] * 2, heat, done, "a first plan")
            for _, searcher in zip(pair, self.searchers, strict=False):
                loads, stops, _ = plan_of(searcher)
                self.tried.append((searcher.cost, loads, stops))
            self.spent = done
            if self.spending.stopped:
                break
        self.tried.sort(key=lambda tried: tried[0])
        for searcher in self.searchers:
            searcher.start_from(*self.tried[0][1:])

    def ask_ortools(self) -> None:
        """OR-Tools' plan for the chosen loading; the second searcher starts from it."""
        if len(self.problem.orders) > self.tuning.search_ortools_orders or self.spending.stopped:
            return
        loads, _, _ = plan_of(self.searchers[0])
        self.spent += self.tuning.search_ortools_share
        until = self.spending.until(self.spent)
        count = self.spending.effort.count

        def stop() -> bool:
            self.spending.tell(0.1, "routing by OR-Tools")
            return self.spending.over(until)

        loadings = loadings_of(self.problem, self.first_load, loads)
        days = [TruckDay(self.tables, row, loading) for row, loading in enumerate(loadings)]
        limit = SearchLimit(
            None if count is None else self.tuning.search_ortools_looks * count, stop
        )
        found = sequences(self.tables, days, limit)
        if found is not None:
            self.searchers[1].start_from(loads, found)
