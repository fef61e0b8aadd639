"""Every check, run over a plan."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace

from planner.day.clock import Window
from planner.day.day import Day
from planner.day.very import once
from planner.plan.audit import (
    rules_clock,
    rules_day,
    rules_fills,
    rules_held_words,
    rules_holds,
    rules_ids,
    rules_loading,
    rules_measures,
    rules_people,
    rules_shared,
    rules_unserved,
    rules_works,
    totals,
)
from planner.plan.audit.case import TruckCase, Violation, replay
from planner.plan.audit.edges import day_without_edges
from planner.plan.audit.strength import Strength, StrengthError, strength
from planner.plan.audit.weather import openings
from planner.plan.model import Again, NotDone, Plan, TruckPlan
from planner.roads.travel import Travel

TRUCK_CHECKS: tuple[Callable[[TruckCase], Iterator[Violation]], ...] = (
    *(
        check
        for rules in (rules_loading, rules_clock, rules_works, rules_fills, rules_measures)
        for name, check in vars(rules).items()
        if name.startswith("check_") and check.__module__ == rules.__name__
    ),
    rules_ids.check_done_comes_first,
    rules_ids.check_trucks_that_are_down,
    rules_ids.check_when_it_is_inspected,
    totals.check_truck_totals,
)
"""Each of them checks one fact about one truck; every check_* of the first modules is one."""

MOST_SEEN = 5_000
"""Trucks' days that an auditor remembers."""


class Auditor:
    """The audit of one day's plans. What the tables say is worked out once; a truck's day that is
    the very same object as in a plan before is not looked at twice.

    travel_by_truck: drive minutes and miles of each truck in service; roads: description and
    warning of where they come from, None = not looked at.
    """

    def __init__(
        self, day: Day, travel_by_truck: Mapping[str, Travel], roads: tuple[str, str] | None = None
    ) -> None:
        day = day_without_edges(day)
        self._day, self._travel = day, travel_by_truck
        self._roads = roads
        self._strengths = _strengths(day)
        self._due = rules_day.DueToday(day)
        self._openings = openings(day)
        self._windows = {order_id: one.both for order_id, one in self._openings.items()}
        self._unserved = rules_unserved.Unserved(
            day,
            travel_by_truck,
            self._strengths,
            self._windows,
            {order_id: one.weather for order_id, one in self._openings.items()},
            self._due,
        )
        self._holds: dict[frozenset[str], rules_holds.Holds] = {}
        self._held_words: dict[tuple[tuple[NotDone, ...], frozenset[str]], list[Violation]] = {}
        self._papers = tuple(rules_people.check_papers(day))
        self._crew = once(self._of_crew)
        # The truck's day stands beside its violations, so that its id is not given away again.
        self._seen: dict[int, tuple[TruckPlan, Again | None, list[Violation]]] = {}

    def audit(self, plan: Plan) -> tuple[Violation, ...]:
        """Every rule that the plan breaks, trucks in the plan's order, the day's own facts first.
        Nothing is raised on a plan that a person edited: what cannot be checked is a violation."""
        # Trucks' days that were looked at are known to hold numbers.
        fresh = tuple(row for row in plan.trucks if id(row) not in self._seen)
        if any(rules_day.check_figures_are_numbers(replace(plan, trucks=fresh))):
            return tuple(rules_day.check_figures_are_numbers(plan))
        found: list[Violation] = []
        day = self._day
        found += rules_day.check_origin(plan, day)
        found += rules_day.check_how_it_was_made(plan, self._roads)
        found += rules_day.check_trucks(plan, day)
        found += rules_day.check_every_order_once(plan, day)
        found += rules_day.check_whose_day_it_is(plan, day, self._due)
        found += rules_day.check_parts(plan, day)
        found += rules_day.check_pins(plan)
        found += self._of_held(plan)
        found += self._unserved.check(plan)
        found += rules_ids.check_what_was_skipped(plan)
        found += rules_shared.check_queues(plan, day)
        found += self._papers
        found += (row for planned in plan.trucks for row in self._crew(planned))
        found += rules_shared.check_store(plan, day, self._strengths)
        found += totals.check_day_totals(plan, self._day)
        for planned in plan.trucks:
            found += self.of_truck(planned, plan.again)
        return tuple(found)

    def _of_held(self, plan: Plan) -> Iterator[Violation]:
        done = rules_holds.done_orders(plan)
        if done not in self._holds:
            self._holds[done] = rules_holds.Holds(self._day, self._strengths, self._openings, done)
        holds, key = self._holds[done], (plan.held, done)
        if key not in self._held_words:
            words = rules_held_words.check_held_words(plan.held, self._day, holds)
            self._held_words[key] = list(words)
        yield from rules_holds.check_holds(plan, self._day, holds)
        yield from self._held_words[key]

    def _of_crew(self, planned: TruckPlan) -> tuple[Violation, ...]:
        return tuple(rules_people.check_crew(planned, self._day))

    def of_truck(self, planned: TruckPlan, again: Again | None) -> list[Violation]:
        """Every rule that one truck's day breaks by itself. again: of its plan."""
        known = self._seen.get(id(planned))
        if known is not None and known[1] is again:
            return known[2]
        travel = self._travel.get(planned.truck_id)
        found: list[Violation] = []
        if planned.truck_id in self._day.workbook.trucks and travel is not None:
            found = _check_truck(self._day, planned, travel, self._strengths, self._windows, again)
        if len(self._seen) >= MOST_SEEN:
            self._seen.clear()
        self._seen[id(planned)] = (planned, again, found)
        return found


def audit(
    plan: Plan,
    day: Day,
    travel_by_truck: Mapping[str, Travel],
    roads: tuple[str, str] | None = None,
) -> tuple[Violation, ...]:
    """Auditor.audit for one plan."""
    return Auditor(day, travel_by_truck, roads).audit(plan)


def _check_truck(
    day: Day,
    planned: TruckPlan,
    travel: Travel,
    strengths: Mapping[str, Strength],
    windows: Mapping[str, tuple[Window, ...] | None],
    again: Again | None,
) -> list[Violation]:
    truck = day.workbook.trucks[planned.truck_id]
    found = list(rules_ids.check_names(day, truck, planned, travel, strengths))
    if found:
        return found
    case = TruckCase(
        day=day,
        truck=truck,
        planned=planned,
        travel=travel,
        ledger=replay(truck, planned),
        strengths=strengths,
        windows=windows,
        again=again,
    )
    for check in TRUCK_CHECKS:
        found += check(case)
    return found


def _strengths(day: Day) -> dict[str, Strength]:
    known: dict[str, Strength] = {}
    for mix_id, mix in day.workbook.mixes.items():
        try:
            known[mix_id] = strength(day.workbook, mix)
        except StrengthError:
            # Named where a truck carries the mix (MIX-RATE).
            continue
    return known
