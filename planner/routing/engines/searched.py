"""What days and calendars by the compiled search share, apart from OR-Tools: a calendar needs none,
and importing it takes half a second."""

from collections.abc import Sequence

from planner.routing.problem import Loading, RoutingProblem
from planner.routing.repair.draft import Draft

COMPILING = "compiling the search, once on this machine: up to a minute"
TOLERANCE = 1e-6
"""Money by which the two prices of a truck-day may differ: float noise."""


def loadings_of(
    problem: RoutingProblem, first_load: Sequence[int], loads: Sequence[int]
) -> list[Loading]:
    """By truck, the loading of a row of the search's arrays. first_load: the row of its first."""
    return [
        truck.loadings[load - first]
        for truck, load, first in zip(problem.trucks, loads, first_load, strict=True)
    ]


def read_back(draft: Draft, stops: list[list[int]], costs: list[float]) -> Draft:
    """The draft with these stops, each truck-day priced by the rules in plain Python. Raises
    RuntimeError when a price differs: the search, or the rules, would have a bug."""
    for row, (order, cost) in enumerate(zip(stops, costs, strict=True)):
        exact = draft.days[row].cost(order)
        if not abs(exact - cost) <= TOLERANCE * max(1.0, abs(exact)):
            raise RuntimeError(
                f"the search priced truck {draft.days[row].truck.truck_id} at {cost}, the "
                f"rules at {exact} ({draft.days[row].fault}): {order}"
            )
        draft.put(row, order, exact)
    return draft
