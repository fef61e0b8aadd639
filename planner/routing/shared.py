"""Limits that trucks share, kept by any engine: what the store holds, and sites that fill only so
many trucks at one time."""

from __future__ import annotations

from planner.routing.problem import Answer, Effort, Engine, Progress, RoutingProblem
from planner.routing.queues import in_turn
from planner.routing.stock import solved_within_stock


class SharedLimits:
    """An engine whose plans keep these limits; a day without them is the engine's own."""

    def __init__(self, engine: Engine) -> None:
        self.name = engine.name
        self._engine = engine

    def solve(
        self, problem: RoutingProblem, effort: Effort, seed: int, progress: Progress
    ) -> Answer:
        """As Engine.solve."""
        answer = solved_within_stock(self._engine, problem, effort, seed, progress)
        return in_turn(problem, answer)
