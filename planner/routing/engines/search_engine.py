"""The planner's engine: CP-SAT proposes loadings, OR-Tools frames a first plan, a compiled search
improves it, and the rules in plain Python read the result back.

1. Loadings of the fleet: the greedy one and CP-SAT's. Each is tried by a short search; the best
   goes on. OR-Tools routes it once, as a second opinion on the start
   (planner/routing/engines/search_first_plan.py).
2. Two searches anneal from there side by side and exchange; both also change loadings, one of them
   mostly to loadings like the present. For the last part both keep the better plan's loading.
3. Each truck-day is priced again by planner/routing/exact/route_cost.py, whose walk is
   written apart from the compiled one; a difference is a bug and ends loudly.
"""

import math
from concurrent.futures import ThreadPoolExecutor

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import day_arrays
from planner.routing.effort import Spending
from planner.routing.engines.nearest_fit import (
    NearestFit,
    final_pass,
    nearest_fit,
)
from planner.routing.engines.ortools_engine import OrtoolsEngine, OrtoolsSearch
from planner.routing.engines.search_first_plan import Legs, first_plan
from planner.routing.engines.searched import COMPILING, TOLERANCE, loadings_of, read_back
from planner.routing.exact.route_cost import DayTables
from planner.routing.problem import (
    RoutingProblem,
    Solution,
    SolveOptions,
    StopToken,
)
from planner.routing.repair.draft import Draft
from planner.routing.search.fewer_fills import anneal_with_dearer_fills, saves_a_fill
from planner.routing.search.first_run import CannotCompile, FirstRun
from planner.routing.search.parallel import plan_of
from planner.routing.search.recombine import best_day

MEANWHILE = "; {} plans meanwhile"
STANDS = "; Ctrl-C takes the plan by {}"


class SearchEngine:
    """Compiled search; the same problem, seed and count give the same answer."""

    name = "search"

    def __init__(self, threads: int = 2) -> None:
        self.threads = threads

    def solve(self, problem: RoutingProblem, options: SolveOptions) -> Solution:
        """As Engine.solve. Where the search cannot be compiled, or the stop comes before it is,
        OR-Tools makes the whole plan, and the name says so."""
        spending = Spending(options)
        solve = _Solve(problem, spending, options.seed, self.threads)
        try:
            draft = solve.run()
        except CannotCompile:
            stand_in = OrtoolsEngine()
            self.name = stand_in.name
            return stand_in.solve(problem, options)
        self.name = solve.planned_by
        spending.tell(0.99, "reasons for what did not fit")
        return final_pass(draft, lambda: spending.over(spending.until(1.05)))


class _Solve:
    """One solve."""

    def __init__(
        self, problem: RoutingProblem, spending: Spending, seed: int, threads: int
    ) -> None:
        self.problem, self.spending, self.seed = problem, spending, seed
        self.tuning = problem.tuning
        self.tables = DayTables(problem)
        self.legs = Legs(spending, problem.tuning, threads)
        self.planned_by = SearchEngine.name
        """The name of the engine whose plan is the answer."""
        self.recombined_s = 0.0
        """What putting truck-days together took last."""
        self.best_cost = math.inf
        self.best_loads: list[int] = []
        self.best_stops: list[list[int]] = []

    def run(self) -> Draft:
        problem, spending = self.problem, self.spending
        if not problem.orders or not problem.trucks or any(not t.loadings for t in problem.trucks):
            return nearest_fit(self.tables, spending.stop)
        compiling = FirstRun(day_arrays(problem))
        if compiling.is_needed and (stand_in := self._while_it(compiling)) is not None:
            return stand_in
        del compiling  # With it go the arrays of a whole day, 40 MB of a large one.
        spending.tell(0.0, "choosing what each truck is loaded with")
        first = first_plan(problem, self.tables, self.legs, self.seed)
        self.searchers, self.tried = first.searchers, first.tried
        self._anneal(first.spent)
        loads, stops, costs = plan_of(min(self.searchers, key=lambda searcher: searcher.cost))
        loadings = loadings_of(problem, first.first_load, loads)
        return read_back(Draft(self.tables, loadings, spending.stop), stops, costs)

    def _while_it(self, compiling: FirstRun) -> Draft | None:
        """Compile; another engine's plan when the stop comes before that is done: OR-Tools', of
        a day that is too large for its model (1.4 GB at 960 orders) nearest-fit's. Raises
        CannotCompile."""
        spending, compiled_or_stopped = self.spending, StopToken()
        meanwhile = Spending(SolveOptions(spending.effort, stop=compiled_or_stopped))
        is_large = len(self.problem.orders) > self.tuning.search_ortools_orders
        who = NearestFit.name if is_large else "OR-Tools"

        def stand_in() -> Draft:
            if is_large:
                return nearest_fit(DayTables(self.problem), compiled_or_stopped)
            return OrtoolsSearch(self.problem, meanwhile, self.seed).run()

        def tell() -> None:
            going_on = STANDS if plan.done() else MEANWHILE
            spending.tell(0.0, COMPILING + spending.so_far + going_on.format(who))

        with ThreadPoolExecutor(1) as pool:
            plan = pool.submit(stand_in)
            try:
                # Here, where Ctrl-C is heard and progress is told, nothing long is done.
                is_compiled = compiling.done(spending.stop, tell)
            finally:
                compiled_or_stopped.set()
        draft = plan.result()
        if is_compiled:
            return None
        self.planned_by = NearestFit.name if is_large else OrtoolsEngine.name
        return draft

    def _anneal(self, begun: float) -> None:
        """Annealings from several starts, and by both searchers a last one from the best, when
        `begun` of the effort is spent."""
        heat = min(searcher.order_money() for searcher in self.searchers)
        self._keep_best()
        starts = self._starts(1.0 - begun)
        early = self.tuning.search_early_share * (1.0 - begun) if starts > 1 else 0.0
        if starts > 1:
            for turn in range(starts):
                if turn > 0:
                    self._go_back_to_best()
                    # One of the two searches goes on from what another loading gave.
                    _, loads, stops = self.tried[min(turn, len(self.tried) - 1)]
                    self.searchers[0].start_from(loads, stops)
                self._anneal_once(
                    heat, begun + early * turn / starts, early / starts, exchange=False
                )
                self._keep_best()
            self._go_back_to_best()
        first_share = self.tuning.search_last_from if starts > 1 else 0.0
        again = self.tuning.search_again_share if self.tuning.search_again_most else 0.0
        again *= 1.0 - begun
        begun, width = begun + early, 1.0 - begun - early
        if self.legs.steps is None:
            # So many seconds were promised: the next annealing takes them from this one.
            again *= self._refills_matter()
            width, again = (part * width / (width + again) for part in (width, again))
        self._anneal_once(heat, begun, width, exchange=True, first_share=first_share)
        self._keep_best()
        self._go_back_to_best()
        self._anneal_again(heat, begun + width, again)

    def _anneal_again(self, heat: float, begun: float, width: float) -> None:
        """While the plan seems to have a fill too many and it helps, anneal it with dearer fills.
        Seconds that this does not need go into another annealing as it is."""
        tuning, tried, before = self.tuning, 0, math.inf
        while (
            width
            and tried < tuning.search_again_most
            and self.best_cost < before - TOLERANCE
            and self._has_a_fill_too_many()
        ):
            tried, before = tried + 1, self.best_cost

            def run(begin: float, end: float, share: float, done: float) -> None:
                leg = self.legs.leg(begin, end, share * width, begun + done * width, 0.0)
                self.legs.run(self.searchers, [leg] * 2, heat, 0.98, "trying with a fill less")

            anneal_with_dearer_fills(self.searchers, run, heat)
            self._recombine()
            self._keep_best()
            self._go_back_to_best()
        if self.legs.steps is None and width and not tried:
            self._anneal_once(
                heat, begun, width, exchange=True, first_share=tuning.search_last_from
            )
            self._keep_best()
            self._go_back_to_best()

    def _refills_matter(self) -> bool:
        """Whether a refill costs enough of the present plan for a fill less to be looked for."""
        tuning, now = self.tuning, self.searchers[0].now
        refill = now.money[now.truck[:, c.SIZE] > 0, c.LEAST_REFILL].min(initial=math.inf)
        return len(self.problem.orders) <= tuning.search_recombine_orders and bool(
            refill >= tuning.search_again_worth * now.money[:, c.COST].sum()
        )

    def _has_a_fill_too_many(self) -> bool:
        """Whether a fill less would do and is worth looking for."""
        if self.spending.stopped or not self._refills_matter():
            return False
        day, loads, stops = self.searchers[0].day, self.best_loads, self.best_stops
        effort, stop = self.tuning.search_again_effort, self.spending.stop
        return saves_a_fill(day, loads, stops, effort, self.seed, stop)

    def _starts(self, share: float) -> int:
        """How many annealings the effort is enough for."""
        if self.legs.steps is not None:
            steps = self.legs.steps * share
        else:
            seconds = self.spending.effort.seconds or 0.0
            steps = share * seconds * min(searcher.rate for searcher in self.searchers)
        each = (
            self.tuning.search_steps_per_order
            * len(self.problem.orders)
            / self.tuning.search_early_share
        )
        return max(1, min(self.tuning.search_starts_most, int(steps / each)))

    def _anneal_once(
        self, heat: float, begun: float, width: float, *, exchange: bool, first_share: float = 0.0
    ) -> None:
        """One annealing that takes `width` of the effort, when `begun` of it is done. exchange:
        the worse search takes over the better plan in the second half. first_share: where in the
        annealing to begin."""
        for turn in range(self.tuning.search_rounds):
            if self.spending.stopped:
                return
            if exchange and turn >= self.tuning.search_exchange_from:
                if self._recombines_quickly():
                    self._recombine()
                better, worse = sorted(self.searchers, key=lambda searcher: searcher.cost)
                if better.cost < worse.cost - TOLERANCE:
                    worse.learn(better)
            begin, end = (
                first_share + (1.0 - first_share) * part / self.tuning.search_rounds
                for part in (turn, turn + 1)
            )
            done = begun + width * (turn + 1) / self.tuning.search_rounds
            legs = [
                self.legs.leg(
                    begin,
                    end,
                    width / self.tuning.search_rounds,
                    done,
                    chance if turn < self.tuning.search_reload_rounds else 0.0,
                )
                for chance in self.tuning.search_reload_chances
            ]
            self.legs.run(self.searchers, legs, heat, done, "improving")
        self._recombine()

    def _recombines_quickly(self) -> bool:
        """Whether it is worth its time before the end."""
        tuning, seconds = self.tuning, self.spending.effort.seconds
        return len(self.problem.orders) <= tuning.search_recombine_orders and (
            seconds is None or self.recombined_s <= tuning.search_recombine_share * seconds
        )

    def _recombine(self) -> None:
        """The worse search goes on from the best day that truck-days seen make, if it is better."""
        better, worse = sorted(self.searchers, key=lambda searcher: searcher.cost)
        if self.spending.stopped or not self.tuning.search_seen_days:
            return
        seen = [one.seen for one in self.searchers]
        looks, begun = self.tuning.search_recombine_looks, self.spending.now()
        found = best_day(better.day, seen, better.cost - TOLERANCE, looks)
        self.recombined_s = self.spending.now() - begun
        if found is not None:
            worse.start_from(*found)

    def _keep_best(self) -> None:
        """Remember the best plan seen so far."""
        better = min(self.searchers, key=lambda searcher: searcher.cost)
        if better.cost < self.best_cost - TOLERANCE:
            self.best_cost = better.cost
            self.best_loads, self.best_stops, _ = plan_of(better)

    def _go_back_to_best(self) -> None:
        for searcher in self.searchers:
            searcher.start_from(self.best_loads, self.best_stops)
