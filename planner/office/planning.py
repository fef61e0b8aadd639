"""Planning the rest of the open day again, from the plan on the table: the work of the search's own
process.

It begins with the plan as it stands, so that what it offers is never worse unless that plan breaks
a rule; a search from nothing then looks elsewhere. Pinned orders stay on their trucks, trucks that
are out of the day stay out.
"""

import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from math import inf
from typing import Final

from planner.changing import ReadyDay
from planner.office.facts import Made
from planner.plan.done_part import loading_of
from planner.plan.model import Plan
from planner.routing.engines import engine_named
from planner.routing.exact.route_cost import DayTables
from planner.routing.problem import (
    Effort,
    Progress,
    Solution,
    SolveOptions,
    StopToken,
)
from planner.routing.repair.draft import GAIN, Draft, nothing_loaded
from planner.routing.repair.improve import improve, polish, take_over
from planner.routing.shared.limits import held_to_limits, shares_limits
from planner.routing.unserved.reasons import reasons

ROUNDS: Final = 60
"""Of taking out and putting back, between two looks at what was gained."""
WARM_SHARE: Final = 0.4
"""Of the work, what begins with the plan on the table; the rest begins with nothing."""
ENGINE: Final = "search"


@dataclass(frozen=True)
class Better:
    """A plan that is better than the one on the table. price: its cost and what its unserved orders
    are worth."""

    plan: Plan
    price: float


class Rest:
    """The rest of a day to be planned again. made: the plan on the table; effort: a count as of
    `planner plan --effort`; better: told each plan that beats all before."""

    def __init__(
        self,
        ready: ReadyDay,
        made: Made,
        effort: int,
        progress: Progress,
        stop: StopToken,
        better: Callable[[Better], None],
    ) -> None:
        self._ready, self._made, self._effort = ready, made, effort
        self._progress, self._stop, self._better = progress, stop, better
        pinned = {
            work.order_id: truck.truck_id
            for truck in made.plan.trucks
            for planned in truck.stops
            for work in planned.orders
            if work.order_id in made.plan.pinned and not planned.done
        }
        out = {*made.trucks_out, *ready.prepared.day.at_home}
        self.problem = ready.problem(pinned, tuple(out), made.plan)
        self._worth = {order.order_id: order.price for order in self.problem.orders}
        # A plan that breaks a rule is beaten by any that breaks none.
        self._best = inf if made.violations else self.price(made.plan)

    def price(self, plan: Plan) -> float:
        """What the day costs, with the prices of the orders that are left out."""
        left = sum(self._worth.get(row.order_id, 0.0) for row in plan.unserved)
        return plan.totals.totals.cost + left

    def run(self, seed: int) -> float:
        """Look until the effort is spent or the token set; the best price found."""
        if not self.problem.orders or not self.problem.trucks:
            return self._best
        draft = self._as_it_stands()
        rounds = max(1, self._effort * len(self.problem.orders) // 100)
        for share, text in self._improved(draft, rounds, seed):
            if self._stop.is_set:
                break
            self._progress(WARM_SHARE * share, text)
        if not self._stop.is_set:
            self._from_nothing(seed)
        return self._best

    def _as_it_stands(self) -> Draft:
        """The plan on the table, what does not stand in it mended."""
        tables = DayTables(self.problem)
        planned = {truck.truck_id: truck for truck in self._made.plan.trucks}
        trucks = self._ready.prepared.day.workbook.trucks
        loadings = []
        for spec in self.problem.trucks:
            loading = loading_of(trucks[spec.truck_id], planned[spec.truck_id])
            if not any(loading.mix_of):
                loading = spec.loadings[0] if spec.loadings else nothing_loaded(spec)
            loadings.append(loading)
        draft = Draft(tables, loadings, self._stop)
        routes = self._ready.routes(self._made.plan, self.problem)
        draft.turns = {row: route.load_turn for row, route in enumerate(routes)}
        for row, route in enumerate(routes):
            stops = tables.numbers(route.stops)
            if not stops:
                continue
            cost = draft.days[row].cost(stops)
            if cost < inf:
                draft.put(row, stops, cost)
            else:
                orders = [stop for stop in stops if 0 <= stop < len(draft.prices)]
                take_over(draft, row, orders)
        return draft

    def _improved(self, draft: Draft, rounds: int, seed: int) -> Iterator[tuple[float, str]]:
        def over() -> bool:
            return self._stop.is_set

        draft.serve(sorted(draft.unserved, key=lambda order: (-draft.prices[order], order)))
        polish(draft, over)
        self._offer(draft)
        yield 0.0, "single stops moved"
        rng = random.Random(seed)
        done = 0
        while done < rounds and not over():
            part = min(ROUNDS, rounds - done)
            before = draft.total
            draft = improve(draft, part, rng, partial(_share, done, rounds), over)
            done += part
            if draft.total < before - GAIN:
                self._offer(draft)
            yield done / rounds, "around the plan on the table"

    def _from_nothing(self, seed: int) -> None:
        def progress(share: float, text: str) -> None:
            self._progress(WARM_SHARE + (1 - WARM_SHARE) * share, text)

        engine = engine_named(ENGINE)
        options = SolveOptions(Effort(count=self._effort), seed, progress, self._stop)
        answer = engine.solve(self.problem, options)
        self._take(answer, engine.name)

    def _offer(self, draft: Draft) -> None:
        """A draft, held to what trucks share."""
        answer = draft.answer(reasons(draft))
        if shares_limits(self.problem):
            kept, why = held_to_limits(self.problem, answer, self._stop)
            answer = kept.answer({name: (one.code, one.text) for name, one in why.items()})
        self._take(answer, ENGINE)

    def _take(self, answer: Solution, engine: str) -> None:
        """Work a found answer out; tell it when it beats what there was and keeps every rule."""
        plan, violations = self._ready.answered(answer, self._made.plan, engine)
        price = self.price(plan)
        if not violations and price < self._best - 0.005:
            self._best = price
            self._better(Better(plan, price))


def _share(before: int, rounds: int, done: int) -> float:
    return (before + done) / rounds
