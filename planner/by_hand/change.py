"""A changed stop order -> the plan, every clock time and gallon worked out again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from planner.by_hand.answer import hand_answer
from planner.by_hand.codes import StopOrderError
from planner.by_hand.hand_rows import HandRow
from planner.plan.assemble import MadeAgain, Origin, Scheduler, make_plan
from planner.plan.model import Plan

BY_HAND: Final = ", changed by hand"
"""Stands behind the engine's name in a plan that a person changed."""


def changed_plan(
    rows: Sequence[HandRow], earlier: Plan, scheduler: Scheduler, roads: tuple[str, str]
) -> tuple[Plan, tuple[str, ...]]:
    """The plan of the rows, and the orders that the earlier plan did and it leaves out. scheduler:
    of the day; roads: description and warning of where the travel comes from. Rules may be broken
    in it; raises StopOrderError with every reason for which there can be no such plan."""
    prepared = scheduler.prepared
    held_ids = {hold.order_id for hold in prepared.held}
    underway = scheduler.underway
    meant = hand_answer(rows, earlier, prepared.day, prepared.apart, held_ids, underway)
    if meant.answer is None:
        raise StopOrderError(meant.problems)
    done = {stop.ref for truck in meant.answer.routes for stop in truck.stops}
    plan = make_plan(
        # What a person gave to a truck against a rule stands there, and the audit says so.
        replace(prepared, held=tuple(row for row in prepared.held if row.order_id not in done)),
        meant.answer,
        scheduler.travel_by_truck,
        Origin(
            seed=earlier.seed,
            effort=earlier.effort,
            engine=earlier.engine.removesuffix(BY_HAND) + BY_HAND,
            roads=roads[0],
            roads_warning=roads[1],
        ),
        None if earlier.again is None else MadeAgain(earlier.again, underway),
        scheduler,
    )
    return replace(plan, pinned=meant.pinned, ahead=earlier.ahead), meant.out
