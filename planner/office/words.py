"""Two plans of a day against each other, in words."""

from __future__ import annotations

from planner.plan.model import Plan


def difference(before: Plan, after: Plan) -> str:
    """'saves 12.30, 3 orders change trucks, 2 more orders in'."""
    change = after.totals.totals.cost - before.totals.totals.cost
    cost = f"costs {change:,.2f} more" if change > 0 else f"saves {-change:,.2f}"
    return ", ".join(filter(None, (cost, moves(before, after))))


def moves(before: Plan, after: Plan) -> str:
    """'3 orders change trucks, 2 more orders in'; '' = every order stays on its truck."""
    was, now = trucks_of(before), trucks_of(after)
    words = []
    moved = sum(1 for name, truck in now.items() if was.get(name, truck) != truck)
    came, went = len(now.keys() - was.keys()), len(was.keys() - now.keys())
    for count, one, more in (
        (moved, "order changes trucks", "orders change trucks"),
        (came, "more order in", "more orders in"),
        (went, "order out", "orders out"),
    ):
        if count:
            words.append(f"{count} {one if count == 1 else more}")
    return ", ".join(words)


def trucks_of(plan: Plan) -> dict[str, str]:
    """Order -> truck."""
    return {
        work.order_id: truck.truck_id
        for truck in plan.trucks
        for stop in truck.stops
        for work in stop.orders
    }
