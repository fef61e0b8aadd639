"""Trucks that share a place to refill (rule 28). Written apart from `planner.routing`."""

from __future__ import annotations

from collections.abc import Iterator

from planner.day.clock import clock_text
from planner.day.day import Day
from planner.plan.audit.violation import MINUTE_TOLERANCE, Violation
from planner.plan.model import Plan, Stop

Turn = tuple[str, Stop]
"""A refill stop and whose it is."""


def check_queues(plan: Plan, day: Day) -> Iterator[Violation]:
    """At a site that fills only so many trucks at one time, each begins as soon as fewer than that
    are left of those that came before it, and no sooner."""
    turns: dict[str, list[Turn]] = {}
    for truck in plan.trucks:
        for stop in truck.stops:
            if stop.kind == "refill":
                turns.setdefault(stop.place_id, []).append((truck.truck_id, stop))
    for site_id, here in turns.items():
        site = day.workbook.sites.get(site_id)
        if site is None or site.trucks_at_once is None:
            continue
        for turn in here:
            if not turn[1].done:
                yield from _check_turn(turn, here, site.trucks_at_once, site.open_min)


def _check_turn(
    turn: Turn, here: list[Turn], at_once: int, open_min: float | None
) -> Iterator[Violation]:
    truck_id, stop = turn
    first = [other for name, other in here if name != truck_id and _goes_first(name, other, turn)]
    ready = stop.arrive_min if open_min is None else max(stop.arrive_min, open_min)
    moments = [ready, *(other.leave_min for other in first if other.leave_min > ready)]
    right = min(
        moment for moment in moments if sum(other.leave_min > moment for other in first) < at_once
    )
    if stop.begin_min < right - MINUTE_TOLERANCE:
        yield Violation(
            "SITE-FULL",
            truck_id,
            stop.seq,
            f"begins to fill at {clock_text(stop.begin_min)}; {stop.place_id} fills {at_once} at "
            f"one time, and those that came before leave room at {clock_text(right)}",
        )
    elif stop.begin_min > right + MINUTE_TOLERANCE:
        yield Violation(
            "CLOCK-BEGIN",
            truck_id,
            stop.seq,
            f"the refill begins at minute {stop.begin_min:.2f}, may begin at {right:.2f}",
        )


def _goes_first(name: str, other: Stop, turn: Turn) -> bool:
    """Whether the other comes before: what is done does, else who arrives first, else whose name
    comes first (plan.json keeps six digits of a minute)."""
    truck_id, stop = turn
    if other.done:
        return True
    return (round(other.arrive_min, 6), name) < (round(stop.arrive_min, 6), truck_id)
