"""The last word on fills, lunches and turns of a finished plan: CP-SAT over all trucks.

Which truck does which orders in which sequence stays as it is. First each truck alone; then, where
trucks share a place to fill or the store, all of those together, allowed a little more than they
would cost alone, then more, until what is allowed is enough or as much as the plan costs already.
The plain evaluator prices every answer, and the plan changes only when that finds it cheaper.
"""

import time
from collections.abc import Mapping
from dataclasses import replace
from math import inf
from types import MappingProxyType
from typing import Any

from planner.routing.compiled.python_api import place_refills
from planner.routing.exact.route_cost import LUNCH
from planner.routing.exact.walk import full_walk
from planner.routing.loading.assign import asked
from planner.routing.problem import Effort
from planner.routing.refills.model import RefillModel
from planner.routing.refills.sequence import OrderSequence
from planner.routing.refills.ways import RefillWays
from planner.routing.repair.draft import GAIN, Draft
from planner.routing.shared.queues import Queued, queued
from planner.routing.shared.store import within_stock

CENT = 0.01
"""What the rounding of the clock to ticks may take off a truck's price."""
SECONDS = 4.0
"""What a unit of CP-SAT's deterministic time takes, about."""
SOONER_MIN = 1.0
"""How much sooner a crew must be home for lunch to move at the same price."""
WAYS_EFFORT = 2e-5
"""CP-SAT's deterministic time that looking at one way is worth."""


class Settling:
    """The last word on one day. rest: what is left of the effort for the engine; gap: as of
    settle() when it was asked last."""

    def __init__(self, effort: Effort, seed: int) -> None:
        tuning = effort.tuning
        self.seed = seed
        self.gap: float | None = None
        self.rest, self._seconds = effort, inf
        if effort.count is not None:
            self.left = tuning.refills_effort_per_count * effort.count
        else:
            seconds = effort.seconds or 0.0
            self._seconds = tuning.refills_share * seconds
            self.rest = replace(effort, seconds=seconds - self._seconds)
            self.left = self._seconds / SECONDS

    def settle(self, draft: Draft) -> float | None:
        """Put refills and lunches of a draft where they cost least, and so that every rule is kept
        in queues; money by which they might still be cheaper for these sequences, 0 = proved best,
        None = nothing is known."""
        self.gap = None
        begun = time.monotonic()
        self._until = begun + self._seconds
        if any(stops for stops in draft.stops) and not draft.stop.is_set:
            day = _OneDay(self, draft)
            # A plan that does not stand is settled again once it does.
            kept = self.left / 2.0 if day.now.broken else 0.0
            self.left -= kept
            self.gap = day.run()
            day.leave_loaded()
            day.come_home()
            self.left += kept
        self._seconds -= time.monotonic() - begun
        return self.gap

    def ask(self, model: RefillModel, draft: Draft) -> tuple[Any, str]:
        """CP-SAT, with what is left."""
        solver, status = asked(
            model.model, max(self.left, 1e-3), self.seed, draft.stop, self._until
        )
        self.left -= solver.response_proto.deterministic_time
        return solver, status

    def ways(self, of: OrderSequence, most: float, draft: Draft) -> RefillWays:
        """The ways of a truck."""

        def over() -> bool:
            return self.left <= 0.0 or draft.stop.is_set or time.monotonic() > self._until

        ways = RefillWays(of, most, over)
        self.left -= WAYS_EFFORT * ways.looked
        return ways


class _OneDay:
    """One draft settled. least: what each truck costs in any case."""

    def __init__(self, settling: Settling, draft: Draft) -> None:
        self.settling, self.draft = settling, draft
        self.rows = [row for row in range(len(draft.stops)) if draft.orders_of(row)]
        self.of = {row: OrderSequence(draft.days[row], draft.orders_of(row)) for row in self.rows}
        self.least: dict[int, float] = {}
        self.now = queued(draft)

    def run(self) -> float | None:
        """As Settling.settle."""
        if not self._alone():
            return None
        slack = CENT * len(self.rows)
        gap = self._money() - sum(self.least.values())
        if gap > slack:
            gap = self._together()
        return None if gap == inf else 0.0 if gap <= slack else gap

    def leave_loaded(self) -> None:
        """Leave loaded, where it costs no more, rather than empty and to the yard's hose first:
        within hours that are paid in any case both may cost the same."""
        for row in self.rows:
            day, stops = self.draft.days[row], self.draft.stops[row]
            if not day.is_out and stops[0] >= day.orders:
                self._take({row: stops[1:]}, saving=-GAIN)

    def come_home(self) -> None:
        """Lunch where the crew is home soonest, or none, of what costs no more: within hours that
        are paid in any case it may have been put where the truck only stands and waits for it."""
        for row in self.rows:
            day, stops = self.draft.days[row], self.draft.stops[row]
            if LUNCH not in stops or day.cost(stops) == inf:
                continue
            without = [stop for stop in stops if stop != LUNCH]
            others = [[*without[:at], LUNCH, *without[at:]] for at in range(1, len(stops))]
            home = {
                tuple(order): walk.return_min
                for order in [without, *others]
                if (walk := full_walk(day, order)).cost <= self.draft.costs[row] + GAIN
            }
            for order in sorted(home, key=lambda order: home[order]):
                if self._take({row: list(order)}, saving=-GAIN, sooner=row):
                    break

    def _money(self) -> float:
        return sum(self.now.costs[row] for row in self.rows)

    def _take(
        self,
        stops: Mapping[int, list[int]],
        turns: Mapping[int, int] = MappingProxyType({}),
        saving: float = GAIN,
        sooner: int | None = None,
    ) -> bool:
        """Take other stop orders over when the plan stands with them and saves at least so much.
        turns: in which these trucks are loaded. sooner: only if this truck is home sooner."""
        trial = self.draft.copy()
        trial.turns = {**trial.turns, **turns}
        for row, order in stops.items():
            if order != trial.stops[row]:
                trial.put(row, order, trial.days[row].cost(order))
        if any(cost == inf for cost in trial.costs):
            return False
        then = queued(trial)
        broken, money = then.key(trial)
        broken_now, money_now = self.now.key(self.draft)
        if (broken, money) >= (broken_now, money_now - saving) or not within_stock(trial):
            return False
        if sooner is not None and _home(trial, then, sooner) > (
            _home(self.draft, self.now, sooner) - SOONER_MIN
        ):
            return False
        self.draft.adopt(trial)
        self.now = then
        return True

    def _alone(self) -> bool:
        """Each truck as if alone. False when nothing can be known. One with too many ways, or for
        which there was no time, stays as it is, and counts with what it costs at least."""
        draft, best = self.draft, {}
        problem = draft.tables.problem
        sites = tuple(replace(site, trucks_at_once=None) for site in problem.sites)
        free = replace(problem, sites=sites, stock=())
        for row in self.rows:
            # What a queue moved may be far dearer than the truck alone, and leave too many ways.
            quick = place_refills(draft.days[row], self.of[row].orders, draft.costs[row])
            most = draft.costs[row] if quick is None else quick[0]
            ways = self.settling.ways(self.of[row], most, draft)
            if not ways.roots or draft.stop.is_set:
                return False
            self.least[row] = min(ways.least, draft.costs[row])
            if ways.too_many:
                continue
            ways.keep(ways.least + CENT)
            model = RefillModel(free, {row: ways})
            solver, status = self.settling.ask(model, draft)
            if status in ("OPTIMAL", "FEASIBLE"):
                best[row] = model.stops(solver)[row]
                self.least[row] = max(ways.least, model.cost_of(solver.best_objective_bound))
            self.least[row] = min(self.least[row], draft.costs[row])
        if not self._take(best):
            for row, stops in best.items():
                self._take({row: stops})
        return True

    def _together(self) -> float:
        """All trucks at once; the gap that is left."""
        settling, draft, least = self.settling, self.draft, self.least
        alone = proved = sum(least.values())
        # More than the cheapest order is worth, and it is left out instead.
        most = self._money()
        if most == inf:
            most = alone + min(
                draft.prices[order] for row in self.rows for order in draft.orders_of(row)
            )
        # What rounding takes off a truck's price must not rule it out.
        floors = {row: money - CENT for row, money in least.items()}
        more = max(0.5, min(10.0, (most - alone) / 8.0))
        while settling.left > 0.0 and not draft.stop.is_set:
            allowed = min(most, alone + more)
            ways = {
                row: settling.ways(self.of[row], allowed - alone + least[row] + CENT, draft)
                for row in self.rows
            }
            if any(one.too_many for one in ways.values()):
                break
            status = "INFEASIBLE"
            if all(one.roots for one in ways.values()):
                slack = CENT * len(self.rows)
                model = RefillModel(draft.tables.problem, ways, allowed + slack, floors)
                solver, status = settling.ask(model, draft)
            if status in ("OPTIMAL", "FEASIBLE"):
                self._take(model.stops(solver), model.turns(solver))
                proved = max(proved, model.cost_of(solver.best_objective_bound))
                break
            if status == "UNKNOWN":
                break
            proved = allowed
            if allowed >= most - CENT:
                break
            more *= 2.0
        return max(0.0, self._money() - proved)


def _home(draft: Draft, queues: Queued, row: int) -> float:
    """When a truck returns, its turns in the queues waited for."""
    return full_walk(draft.days[row], draft.stops[row], queues.waits.get(row)).return_min
