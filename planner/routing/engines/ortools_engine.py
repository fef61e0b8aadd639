"""The planner's engine: loading by CP-SAT, sequences by OR-Tools, everything else exactly.

1. CP-SAT proposes loadings of the fleet; the greedy one of the stand-in engine is always asked too.
2. OR-Tools routes each briefly, the best ones longer. Its sequences are taken over with refills
   and lunch put exactly; what no longer fits is put in again at its cheapest.
3. The best draft is improved by exact ruin and recreate, and each truck's loading is tried against
   the others that carry the same mixes.
The stand-in's plan is made as well and is what is improved if it is the better one: the answer is
never dearer than the stand-in's.
"""

import random
from collections.abc import Callable

from planner.routing.compiled.python_api import use_kept_machine_code
from planner.routing.effort import Spending
from planner.routing.engines.nearest_fit import (
    final_pass,
    largest_need_first,
    nearest_fit,
    serve_what_fits,
)
from planner.routing.engines.ortools_model import SearchLimit, sequences
from planner.routing.exact.route_cost import DayTables
from planner.routing.loading.assign import choose_loadings
from planner.routing.problem import Loading, RoutingProblem, Solution, SolveOptions
from planner.routing.repair.draft import Draft
from planner.routing.repair.improve import improve, polish, reload, rescue, take_over


class OrtoolsEngine:
    """Loading and routing with OR-Tools; the same problem, seed and count give the same answer."""

    name = "ortools"

    def solve(self, problem: RoutingProblem, options: SolveOptions) -> Solution:
        """As Engine.solve."""
        spending = Spending(options)
        use_kept_machine_code()
        draft = OrtoolsSearch(problem, spending, options.seed).run()
        spending.tell(0.99, "reasons for what did not fit")
        return final_pass(draft, lambda: spending.over(spending.until(1.05)))


class OrtoolsSearch:
    """One solve."""

    def __init__(self, problem: RoutingProblem, spending: Spending, seed: int) -> None:
        self.problem, self.spending, self.seed = problem, spending, seed
        self.tuning = problem.tuning
        self.tables = DayTables(problem)
        self.rng = random.Random(seed)
        self.count = spending.effort.count

    def run(self) -> Draft:
        """The best draft found, with no last pass over what is left out."""
        spending = self.spending
        spending.tell(0.0, "a first plan")
        best = nearest_fit(self.tables, spending.stop)
        if not self.problem.orders or not self.problem.trucks or spending.stopped:
            return best
        spending.tell(0.02, "choosing what each truck is loaded with")
        drafts, plain = [best], best.copy()
        loadings = self._loadings()
        for place, loading in enumerate(loadings):
            share = 0.1 + 0.15 * place / len(loadings)
            until = spending.until(
                0.05 + self.tuning.ortools_brief_share * (place + 1) / len(loadings)
            )
            drafts.append(self._routed(loading, self.tuning.ortools_brief_looks, until, share))
        drafts.sort(key=lambda draft: draft.total)
        longer = [
            self._routed(
                [day.loading for day in draft.days],
                self.tuning.ortools_long_looks,
                spending.until(
                    self.tuning.ortools_brief_share
                    + (self.tuning.ortools_long_share - self.tuning.ortools_brief_share)
                    * (place + 1)
                    / self.tuning.ortools_drafts
                ),
                0.25 + 0.1 * place,
            )
            for place, draft in enumerate(drafts[: self.tuning.ortools_drafts])
        ]
        drafts = sorted([*drafts, *longer], key=lambda draft: draft.total)
        # The stand-in ends with the last word, too; what that makes of its plan is the yardstick.
        serve_what_fits(plain, self._over(None))
        return min(
            self._improved(drafts[: self.tuning.ortools_drafts]),
            plain,
            key=lambda draft: draft.total,
        )

    def _loadings(self) -> list[list[Loading]]:
        """Fleet loadings to route, without repeats."""
        stop = self.spending.stop
        greedy = largest_need_first(self.problem, stop)
        found = [
            *choose_loadings(self.problem, self.tuning.ortools_loadings, self.seed, stop, greedy),
            greedy,
        ]
        different: list[list[Loading]] = []
        for loading in found:
            if loading not in different:
                different.append(loading)
        return different

    def _routed(
        self, loading: list[Loading], looks: int, until: float | None, share: float
    ) -> Draft:
        """OR-Tools' plan for a loading, made exact."""
        spending = self.spending
        draft = Draft(self.tables, loading, spending.stop)
        if spending.stopped:
            return draft

        def stop() -> bool:
            spending.tell(share, "routing")
            return spending.over(until)

        limit = SearchLimit(None if self.count is None else looks * self.count, stop)
        found = sequences(self.tables, draft.days, limit)
        for row, sequence in enumerate(found or []):
            take_over(draft, row, sequence)
        draft.serve(sorted(draft.unserved, key=lambda order: (-draft.prices[order], order)))
        return draft

    def _improved(self, drafts: list[Draft]) -> Draft:
        """A share of the rounds for each draft, the rest for the best of them."""
        improved = []
        for place, draft in enumerate(drafts):
            draft.last_chance()
            rescue(draft, self._over(None))
            begin = 0.4 + 0.2 * place / len(drafts)
            until = self.tuning.ortools_long_share + (
                self.tuning.ortools_short_rounds_share - self.tuning.ortools_long_share
            ) * (place + 1) / len(drafts)
            rounds = None if self.count is None else max(1, self.count // 8)
            better = self._rounds(draft, rounds, until, begin, 0.2 / len(drafts))
            improved.append(better)
        best = min(improved, key=lambda draft: draft.total)
        reload(best, self._over(None))
        for part in range(self.tuning.ortools_restarts):
            begin = 0.6 + 0.38 * part / self.tuning.ortools_restarts
            done = (part + 1) / self.tuning.ortools_restarts
            until = (
                self.tuning.ortools_short_rounds_share
                + (1.0 - self.tuning.ortools_short_rounds_share) * done
            )
            rounds = (
                None if self.count is None else max(1, self.count // self.tuning.ortools_restarts)
            )
            best = self._rounds(best, rounds, until, begin, 0.38 / self.tuning.ortools_restarts)
        reload(best, self._over(None))
        best.last_chance()
        rescue(best, self._over(None))
        polish(best, self._over(self.spending.until(1.05)))
        return best

    def _over(self, until: float | None) -> Callable[[], bool]:
        def over() -> bool:
            self.spending.tell_again()
            return self.spending.over(until)

        return over

    def _rounds(
        self, draft: Draft, rounds: int | None, until_share: float, begin: float, width: float
    ) -> Draft:
        """Ruin and recreate for that many rounds or until that share of the seconds."""
        spending = self.spending
        until = spending.until(until_share)
        begun = spending.now()
        share = 0.0

        def share_done(at: int) -> float:
            nonlocal share
            if rounds is not None:
                share = at / rounds
            elif until is not None:
                share = min(1.0, (spending.now() - begun) / max(1e-3, until - begun))
            return share

        def over() -> bool:
            spending.tell(begin + width * share, "improving")
            return spending.over(until)

        return improve(draft, rounds, self.rng, share_done, over)
