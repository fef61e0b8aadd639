"""A day of a workbook made ready for the office: its tables, roads, and plans worked out warm;
what each truck says to orders that are lifted: a price for every gap, or the reason that it
cannot.

Gaps are priced by the engines' exact walk over one truck's day, a tenth of a millisecond each;
the best of each truck is then worked out and audited as a change would be. A truck whose day
breaks a rule already has no exact price, so its gaps are worked out and audited one by one.
"""

import contextlib
from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import count
from math import inf, isfinite
from typing import Final

from planner.by_hand.sheet import HandRow, StopOrderError
from planner.chain import DayRoads, PlannedDay
from planner.changing import ReadyDay
from planner.day.day import Day
from planner.day.fleet import Truck
from planner.day.very import once
from planner.office.changes import Change, wanted
from planner.office.day import Gap, TruckAnswer, TruckFacts
from planner.office.facts import Body, DrivenWays, Made, items_of, spare_of, tanks_of
from planner.office.searcher import DayToSearch
from planner.plan.audit import Violation
from planner.plan.document import from_json, to_json
from planner.plan.done_part import loading_of
from planner.plan.model import NotDone, Plan, TruckPlan
from planner.routing.exact.route_cost import FAULTS, DayTables, TruckDay
from planner.routing.exact.walk import full_walk
from planner.routing.loading.allowed import loading_as_it_is
from planner.routing.problem import Loading, Preferences, Route, StopKind, StopRef

LOOKED_AT: Final = 4
"""So many of a truck's cheapest gaps are audited before it is said to be unable."""

KINDS: Final = {"order": StopKind.ORDER, "refill": StopKind.REFILL, "lunch": StopKind.LUNCH}


@dataclass(frozen=True)
class _Truck:
    """A truck as it stands. stops: without what is done and what is lifted; done: items that
    are; places: of each gap after them as shown, the row of stops before which it goes; own:
    whether it has what is lifted; cost: as planned."""

    truck: Truck
    planned: TruckPlan
    loading: Loading
    stops: tuple[StopRef, ...]
    done: int
    places: tuple[int, ...]
    own: bool
    cost: float

    def route(self, stops: Sequence[StopRef], loading: Loading) -> Route:
        fill_to = tuple(self.planned.fill_to_gal.items())
        return Route(self.truck.truck_id, loading, tuple(stops), fill_to=fill_to)


class Asker:
    """Answers for the plans of one ready day."""

    def __init__(self, ready: ReadyDay) -> None:
        self._ready = ready
        problem = ready.problem()
        # Money only: what crews would like steers the search, and is not what a stop costs.
        self._tables = DayTables(replace(problem, preferences=Preferences()))
        self._rows = {truck.truck_id: row for row, truck in enumerate(problem.trucks)}
        self._days: dict[tuple[str, Loading], TruckDay] = {}

    def ask(self, made: Made, lifted: Sequence[str]) -> tuple[float, tuple[TruckAnswer, ...]]:
        """What the cost changes by without the orders, and every truck's answer."""
        trucks = [self._as_it_stands(planned, lifted) for planned in made.plan.trucks]
        out_change = sum(self._cost(one) - one.cost for one in trucks if one.own)
        held = {hold.order_id: hold.reason for hold in self._ready.prepared.held}
        kept_back = [f"kept back by a rule: {held[name]}" for name in lifted if name in held]
        answers = []
        for one in trucks:
            name = one.truck.truck_id
            if name in made.trucks_out:
                answers.append(TruckAnswer(name, None, "out of the day", (), {}))
            elif name in self._ready.prepared.day.at_home:
                answers.append(TruckAnswer(name, None, "kept home by the calendar", (), {}))
            elif kept_back:
                answers.append(TruckAnswer(name, None, kept_back[0], (), {}))
            else:
                saved = 0.0 if one.own else out_change
                answers.append(self._answer(one, made, lifted, saved))
        return out_change, tuple(answers)

    def _as_it_stands(self, planned: TruckPlan, lifted: Collection[str]) -> _Truck:
        truck = self._ready.prepared.day.workbook.trucks[planned.truck_id]
        items = items_of(planned)
        done = sum(item.done for item in items)
        stops: list[StopRef] = []
        places = [0]
        for item in items[done:]:
            if not (item.kind == "order" and item.what in lifted):
                stops.append(StopRef(KINDS[item.kind], item.what))
            places.append(len(stops))
        loading = loading_of(truck, planned)
        cost, own = planned.totals.cost, len(stops) + 1 < len(places)
        return _Truck(truck, planned, loading, tuple(stops), done, tuple(places), own, cost)

    def _cost(self, one: _Truck) -> float:
        """Of the truck's day without what is lifted."""
        stops = one.stops
        if not any(stop.kind is StopKind.ORDER for stop in stops):
            stops = ()
        return self._ready.scheduled(one.route(stops, one.loading)).totals.cost

    def _answer(self, one: _Truck, made: Made, lifted: Sequence[str], saved: float) -> TruckAnswer:
        name = one.truck.truck_id
        orders = self._ready.prepared.day.orders
        lacking = {orders[order].mix_id for order in lifted} - set(one.loading.mix_of)
        found: TruckAnswer | None = None
        for loads in self._loads(one, sorted(lacking)):
            answer = self._with(one, made, lifted, saved, loads)
            better = found is None or found.best is None
            if answer.best is not None and found is not None and found.best is not None:
                better = (answer.best.price or 0.0) < (found.best.price or 0.0)
            if better:
                found = answer
            if found is not None and found.best is not None and not loads:
                break
        if found is None:
            carried = ", ".join(dict.fromkeys(mix for mix in one.loading.mix_of if mix))
            words = f"it does not carry {', '.join(sorted(lacking))}, and no compartment is empty"
            return TruckAnswer(name, None, f"{words} (it carries {carried})", (), {})
        return found

    def _loads(self, one: _Truck, lacking: Sequence[str]) -> Iterator[dict[str, str]]:
        """Ways to take the lacking mixes into empty compartments, one mix each."""
        if not lacking:
            yield {}
            return
        tanks = zip(one.truck.compartments, one.loading.mix_of, strict=True)
        empty = [tank.compartment_id for tank, mix_id in tanks if mix_id is None]
        for first in range(len(empty)):
            chosen = [*empty[first:], *empty[:first]][: len(lacking)]
            if len(chosen) == len(lacking):
                yield dict(zip(chosen, lacking, strict=True))

    def _with(
        self, one: _Truck, made: Made, lifted: Sequence[str], saved: float, loads: Mapping[str, str]
    ) -> TruckAnswer:
        """The truck's answer when these compartments are loaded besides."""
        loading = one.loading
        if loads or not any(loading.mix_of):
            mix_of = tuple(
                loads.get(tank.compartment_id, mix_id)
                for tank, mix_id in zip(one.truck.compartments, loading.mix_of, strict=True)
            )
            prepared = self._ready.prepared
            loading = loading_as_it_is(prepared.day.workbook, one.truck, prepared.apart, mix_of)
        new = [StopRef(StopKind.ORDER, name) for name in lifted]
        broken = Counter(row.code for row in made.violations if row.truck_id == one.truck.truck_id)
        exact = self._exact(one, loading)
        gaps = []
        # Without what is lifted an exactly walked day breaks nothing.
        mends = one.own and broken.total() > 0
        for gap, place in enumerate(one.places, one.done):
            stops = (*one.stops[:place], *new, *one.stops[place:])
            if exact is not None:
                walked = full_walk(exact, self._tables.numbers(stops))
                price = walked.cost - one.cost + saved
                home = walked.return_min
                words = "" if walked.fault is None else FAULTS[walked.fault]
            else:
                planned, violations = self._ready.truck(one.route(stops, loading), made.plan)
                price = planned.totals.cost - one.cost + saved
                home = planned.stops[-1].arrive_min
                words = _new_in(violations, broken)
                mends = one.own and len(violations) < broken.total()
            kept = Gap(gap, price, home, "", mends)
            gaps.append(Gap(gap, None, None, words) if words else kept)
        best, words = self._best(one, made, new, loading, gaps, broken)
        return TruckAnswer(one.truck.truck_id, best, words, tuple(gaps), dict(loads))

    def _exact(self, one: _Truck, loading: Loading) -> TruckDay | None:
        """The truck's day for exact prices, None = it breaks a rule as it stands, or the office set
        how far it is filled."""
        if one.planned.fill_to:
            return None
        key = (one.truck.truck_id, loading)
        if key not in self._days:
            self._days[key] = TruckDay(self._tables, self._rows[one.truck.truck_id], loading)
        day = self._days[key]
        try:
            stops = self._tables.numbers(one.stops)
        except KeyError:  # an order that a rule keeps back stands in it
            return None
        if any(stop.kind is StopKind.ORDER for stop in one.stops) and day.cost(stops) == inf:
            return None
        return day

    def _best(
        self,
        one: _Truck,
        made: Made,
        new: Sequence[StopRef],
        loading: Loading,
        gaps: list[Gap],
        broken: Mapping[str, int],
    ) -> tuple[Gap | None, str]:
        """The cheapest gap in which the audit finds nothing new, or why there is none. Gaps in
        which it does are marked."""
        able = sorted((gap for gap in gaps if gap.price is not None), key=_price)
        # Without one, the gap with the least way to drive tells best what is in the way.
        for gap in able[:LOOKED_AT] or [gaps[self._nearest(one, new)]]:
            place = one.places[gap.gap - one.done]
            stops = (*one.stops[:place], *new, *one.stops[place:])
            _, violations = self._ready.truck(one.route(stops, loading), made.plan)
            words = _new_in(violations, broken)
            if not words and gap.price is not None:
                return gap, ""
            gaps[gap.gap - one.done] = Gap(gap.gap, None, None, words or gap.why_not)
            why = words or gap.why_not
        return None, why

    def _nearest(self, one: _Truck, new: Sequence[StopRef]) -> int:
        tables, profile = self._tables, self._rows[one.truck.truck_id]
        truck = tables.problem.trucks[profile]
        minutes = tables.minutes[truck.profile]
        there = tables.place[tables.order_row[new[0].ref]]
        yard = tables.problem.sites[tables.site_row[truck.yard_id]].place
        way = [yard]
        for stop in one.stops:
            if stop.kind is StopKind.ORDER and stop.ref in tables.order_row:
                way.append(tables.place[tables.order_row[stop.ref]])
            elif stop.kind is StopKind.REFILL:
                way.append(tables.problem.sites[tables.site_row[stop.ref]].place)
            else:
                way.append(way[-1])
        way.append(yard)
        longer = [
            minutes[way[place]][there]
            + minutes[there][way[place + 1]]
            - minutes[way[place]][way[place + 1]]
            for place in one.places
        ]
        return longer.index(min(longer))


def _price(gap: Gap) -> tuple[bool, float]:
    return not gap.mends, gap.price if gap.price is not None and isfinite(gap.price) else inf


def _new_in(violations: Sequence[Violation], before: Mapping[str, int]) -> str:
    """The first violation of a kind of which there are more than before, in words."""
    left = dict(before)
    for row in violations:
        left[row.code] = left.get(row.code, 0) - 1
        if left[row.code] < 0:
            return row.message
    return ""


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
                kept_home=name in self.day.at_home,
                last=facts.home_min is not None and facts.home_min == last,
                violations=tuple(broken.get(name, ())),
            )
            works = {work.order_id for stop in planned.stops for work in stop.orders}
            pinned = frozenset(made.plan.pinned) & works
            key = (facts.version, now.out, now.kept_home, now.last, now.violations, pinned)
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
