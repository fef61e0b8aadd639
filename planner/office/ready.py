"""A day of a workbook made ready for the office: its tables, roads, and plans worked out warm."""

from __future__ import annotations

import contextlib
from dataclasses import replace
from itertools import count
from typing import Final

from planner.by_hand.codes import StopOrderError
from planner.by_hand.hand_rows import HandRow
from planner.chain import DayRoads, PlannedDay
from planner.changing import ReadyDay
from planner.day.day import Day
from planner.office.asking import Asker
from planner.office.changes import Change, wanted
from planner.office.day import TruckFacts
from planner.office.facts import DrivenWays, items_of, once, spare_of, tanks_of
from planner.office.made import Body, Made
from planner.office.searcher import DayToSearch
from planner.plan.audit import Violation
from planner.plan.document import from_json, to_json
from planner.plan.model import NotDone, Plan, TruckPlan

VERSIONS: Final = count()
"""Of every day of this process: a day whose tables are read again gives no number twice, or pages
would show what they remember of the day before it."""


class OfficeDay:
    """One day's tables and roads, kept ready. What a change does not touch is not worked out
    again."""

    def __init__(self, day: Day, roads: DayRoads, opened: Plan) -> None:
        self.day, self.roads, self.opened = day, roads, opened
        self.ready = ReadyDay(day, roads.travel_by_truck, roads.source, opened)
        self.asker = Asker(self.ready)
        self._ways = DrivenWays(roads.roads)
        self._known = once(self._facts)
        self._numbers = count()
        self._versions: dict[object, int] = {}

    @property
    def to_search(self) -> DayToSearch:
        """For the process that plans."""
        return DayToSearch(self.day, self.roads.travel_by_truck, self.roads.source, self.opened)

    def change(self, change: Change, now: Made) -> tuple[Made, str]:
        """The plan that a change makes of the one on the table, and the change in words. Raises
        Refused, StopOrderError."""
        asked = wanted(change, now.plan, self.day, now.trucks_out)
        made = self.ready.change(asked.rows, now.plan)
        return Made(made.plan, made.violations, asked.trucks_out), asked.said

    def from_body(self, body: Body) -> Made:
        """The plan of a journal's step. Raises StopOrderError when the tables no longer hold what
        it names."""
        rows = [
            HandRow("the journal", None, truck, does, what, mix, pinned, f"truck {truck}", *gal)
            for truck, does, what, mix, pinned, *gal in body["rows"]
        ]
        earlier = replace(
            self.opened,
            trucks=(),
            unserved=tuple(NotDone(*row) for row in body["unserved"]),
            engine=body["engine"],
            seed=body["seed"],
            effort=body["effort"],
        )
        made = self.ready.change(rows, earlier)
        plan = replace(made.plan, engine=body["engine"])
        return Made(plan, made.violations, tuple(body["trucks_out"]))

    def as_opened(self, text: str) -> Made:
        """A plan.json's text, with trucks' days as changes make them where these are the same to
        the last byte, so that the first change touches its trucks only."""
        plan = from_json(text)
        made = Made(plan, (), ())
        with contextlib.suppress(StopOrderError):
            again = self.from_body(made.body)
            if to_json(again.plan) == text:
                return again
        return replace(made, violations=self.ready.audit(plan))

    def planned(self, made: Made) -> PlannedDay:
        """As papers and files take it."""
        return PlannedDay(made.plan, self.day, self.roads, made.violations)

    def trucks(self, made: Made) -> tuple[TruckFacts, ...]:
        """Every truck at a glance."""
        homes = [row.stops[-1].arrive_min for row in made.plan.trucks if row.stops]
        last = max(homes, default=0.0)
        broken: dict[str, list[Violation]] = {}
        for row in made.violations:
            if row.truck_id is not None:
                broken.setdefault(row.truck_id, []).append(row)
        found = []
        for planned in made.plan.trucks:
            name = planned.truck_id
            facts = self._known(planned)
            now = replace(
                facts,
                out=name in made.trucks_out,
                last=facts.home_min is not None and facts.home_min == last,
                violations=tuple(broken.get(name, ())),
            )
            works = {work.order_id for stop in planned.stops for work in stop.orders}
            pinned = frozenset(made.plan.pinned) & works
            key = (facts.version, now.out, now.last, now.violations, pinned)
            if key not in self._versions:
                self._versions[key] = next(VERSIONS)
            version = self._versions[key]
            found.append(replace(now, version=version))
        return tuple(found)

    def _facts(self, planned: TruckPlan) -> TruckFacts:
        truck = self.day.workbook.trucks[planned.truck_id]
        tanks = tanks_of(planned)
        heaviest = max((stop.weight_lb_after for stop in planned.stops), default=0.0)
        return TruckFacts(
            truck_id=planned.truck_id,
            plan=planned,
            out=False,
            home_min=planned.stops[-1].arrive_min if planned.stops else None,
            last=False,
            orders=planned.totals.orders,
            gal=planned.totals.gal,
            cost=planned.totals.cost,
            spare_lb=truck.gvwr_lb - max(heaviest, truck.ready_lb),
            spare=spare_of(planned, truck, tanks),
            items=items_of(planned),
            tanks=tanks,
            way=self._ways.of(planned, self.roads.limits_by_truck.get(planned.truck_id)),
            violations=(),
            version=next(self._numbers),
        )
