"""A changed stop order -> the plan, every clock time and gallon worked out again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

from planner.by_hand.answer import hand_answer
from planner.by_hand.codes import StopOrderError
from planner.by_hand.hand_rows import HandRow
from planner.day.day import Day
from planner.mixing.limits import holds, order_windows
from planner.mixing.recipes import recipes
from planner.mixing.separation import separation
from planner.plan.assemble import Origin, make_plan
from planner.plan.model import Plan
from planner.roads.travel import Travel

BY_HAND: Final = ", changed by hand"
"""Stands behind the engine's name in a plan that a person changed."""


def changed_plan(
    rows: Sequence[HandRow],
    earlier: Plan,
    day: Day,
    travel_by_truck: Mapping[str, Travel],
    roads: tuple[str, str],
) -> tuple[Plan, tuple[str, ...]]:
    """The plan of the rows, and the orders that the earlier plan did and it leaves out. roads:
    description and warning of where the travel comes from. Rules may be broken in it; raises
    StopOrderError with every reason for which there can be no such plan."""
    held = holds(day)
    apart = separation(day.workbook)
    meant = hand_answer(rows, earlier, day, apart, {hold.order_id for hold in held})
    if meant.answer is None:
        raise StopOrderError(meant.problems)
    done = {stop.ref for truck in meant.answer.trucks for stop in truck.stops}
    plan = make_plan(
        day,
        recipes(day.workbook),
        {order_id: order_windows(day, order) for order_id, order in day.orders.items()},
        # What a person gave to a truck against a rule stands there, and the audit says so.
        [hold for hold in held if hold.order_id not in done],
        meant.answer,
        travel_by_truck,
        Origin(
            seed=earlier.seed,
            effort=earlier.effort,
            engine=earlier.engine.removesuffix(BY_HAND) + BY_HAND,
            roads=roads[0],
            roads_warning=roads[1],
        ),
    )
    return replace(plan, pinned=meant.pinned), meant.out
