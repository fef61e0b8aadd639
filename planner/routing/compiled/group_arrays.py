"""Orders whose days depend on each other, as arrays."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from planner.routing.compiled import columns as c
from planner.routing.problem import RoutingProblem


def group_arrays(problem: RoutingProblem) -> dict[str, NDArray[np.int64]]:
    """day.group, day.member and day.choice."""
    groups: list[tuple[int, ...]] = []
    members: list[tuple[int, ...]] = []
    choices: list[int] = []
    row_of = {order.order_id: row for row, order in enumerate(problem.orders)}
    wish = problem.preferences.truck_price
    for group in problem.groups:
        first: dict[object, int] = {}
        rows = [row_of[name] for name in group.order_ids]
        groups.append((len(members), len(members) + len(rows), len(choices), len(group.days)))
        for row in rows:
            like = (
                replace(problem.orders[row], order_id=""),
                None if wish is None else wish[:, row].tobytes(),
            )
            members.append((row, first.setdefault(like, len(members))))
        choices += [c.NO_DAY if one is None else one for days in group.days for one in days]
    return {
        "group": np.array(groups, dtype=np.int64).reshape(-1, 4),
        "member": np.array(members, dtype=np.int64).reshape(-1, 2),
        "choice": np.array(choices, dtype=np.int64),
    }
