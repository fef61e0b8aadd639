"""Why orders are not served: codes and figures of the reasons, worked out again from the tables.

What no truck could do, whatever else it does, is known for sure and must be told with that code;
what some truck could do if it did nothing else must not be told as impossible. Where neither is
sure, the code stands and only its figures are looked at.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from planner.day.clock import Window, clock_text
from planner.day.day import Day
from planner.day.fleet import Truck
from planner.day.orders import Order
from planner.day.very import MOST_KEPT, once
from planner.plan.audit.alone import CLOSE_GAL, Alone, Berth, berths
from planner.plan.audit.case import Violation
from planner.plan.audit.rules_day import HAND_MADE, DueToday
from planner.plan.audit.rules_offers import PlannedLoads, aboard, check_offers, minutes
from planner.plan.audit.rules_people import shut_words
from planner.plan.audit.rules_shared import held_in_store, taken_from_store
from planner.plan.audit.strength import Strength
from planner.plan.model import NotDone, Plan
from planner.roads.travel import Travel

BY_TABLES = {"NO-TRUCK", "NO-MIX", "NO-HOSE", "TOO-LARGE"}
"""Codes that the tables alone decide."""
ALONE = {"TOO-HEAVY", "NEVER-OPEN", "WINDOW", "SITE", "SHIFT"}
"""Codes that say of every truck that it could not do the order alone."""
OF_THE_PLAN = {"FULL", "LOADING", "PRICE", "STORE"}
"""Codes that say what else the day's trucks do, or what it costs."""
NOT_LOOKED_AT = {"HAND", "STOPPED", "WHOLE"}
"""A person took it out or stopped the planning, or another part of its order is left out: no table
tells."""

PINNED = re.compile(r" \(pinned to (.+) by hand\)$")
NUMBER = r"(-?[\d.]+)"


def _says(reason: str, word: str) -> bool:
    """Whether the reason says the word; gallons may be a tenth off, for rounding."""
    gal = re.match(rf"{NUMBER} gal", word)
    return word in reason or (
        gal is not None
        and any(
            word.replace(gal[1], f"{float(gal[1]) + off:.1f}", 1) in reason for off in (-0.1, 0.1)
        )
    )


class Unserved:
    """The audit of one day's reasons. windows: order id -> when it may be done."""

    def __init__(
        self,
        day: Day,
        travel_by_truck: Mapping[str, Travel],
        strengths: Mapping[str, Strength],
        windows: Mapping[str, tuple[Window, ...] | None],
        weather: Mapping[str, tuple[Window, ...] | None],
        due: DueToday,
    ) -> None:
        self._day, self._travel, self._strengths = day, travel_by_truck, strengths
        self._windows, self._weather, self._due = windows, weather, due
        self._berths: dict[tuple[str, str], list[Berth]] = {}
        self._aboard = once(aboard)
        self._known: dict[tuple[NotDone, PlannedLoads | None], list[tuple[str, str]]] = {}

    def check(self, plan: Plan) -> Iterator[Violation]:
        """Every unserved order's code, figures and offers of room."""
        trucks = {truck.truck_id: self._aboard(truck) for truck in plan.trucks}
        carried = tuple((name, one) for name, (one, _) in trucks.items())
        # What a truck that is out, or filled as the office set it, can carry is no matter of the
        # tables.
        as_set = plan.again is not None or any(truck.fill_to for truck in plan.trucks)
        for row in plan.unserved:
            order = self._day.orders.get(row.order_id)
            if order is None:
                continue
            here = (name for name, (_, at) in trucks.items() if order.property_id in at)
            loads = None if as_set else PlannedLoads(carried, frozenset(here))
            if plan.engine.endswith(HAND_MADE):
                found = self._by_hand(loads, row, order)
            else:
                found = self._of_order(plan, loads, row, order)
            for code, message in found:
                yield Violation(code, None, None, f"order {row.order_id}: {message}")

    def _by_hand(
        self, loads: PlannedLoads | None, row: NotDone, order: Order
    ) -> Iterable[tuple[str, str]]:
        """Reasons of a plan that a person changed are those of before the change: what they say of
        other orders is not looked at. So they stay right or wrong while the loads are the same."""
        if (row, loads) not in self._known:
            if len(self._known) >= MOST_KEPT:
                self._known.clear()
            self._known[row, loads] = list(self._of_order(None, loads, row, order))
        return self._known[row, loads]

    def _of_order(
        self, plan: Plan | None, loads: PlannedLoads | None, row: NotDone, order: Order
    ) -> Iterator[tuple[str, str]]:
        """plan: None = changed by hand; loads: None = not looked at."""
        if row.code not in BY_TABLES | ALONE | OF_THE_PLAN | NOT_LOOKED_AT:
            yield "REASON-CODE", f"'{row.code}' is no code of an unserved order"
        if row.code in NOT_LOOKED_AT or not row.reason.strip():
            return
        if loads is None:
            yield from self._price(row, order)
            return
        case = self._case(row, order)
        right = case.by_tables()
        words, false = shut_words(self._day, order)
        for word in [one for one in words if right and one not in row.reason]:
            yield "REASON-FIGURE", f"'{row.reason}' does not say '{word}'"
        for word in [one for one in false if one in row.reason]:
            yield "REASON-FIGURE", f"'{word}' is not so"
        if right is not None and right[0] != row.code:
            yield "REASON-CODE", f"the plan says {row.code}; by the tables it is {right[0]}"
        elif row.code == "TOO-LARGE" and right is None and case.hose_takes_it:
            if not _says(row.reason, f"{case.gal:.1f} gal of {order.mix_id}"):
                yield "REASON-FIGURE", f"it is {case.gal:.1f} gal of {order.mix_id}"
        elif right is None and row.code in BY_TABLES:
            yield "REASON-CODE", f"the plan says {row.code}, and by the tables a truck can carry it"
        elif right is not None and not all(_says(row.reason, word) for word in right[1]):
            yield "REASON-FIGURE", f"'{row.reason}' does not say {', '.join(right[1])}"
        elif row.code in ALONE:
            yield from case.not_alone(row)
        elif right is None and row.code in OF_THE_PLAN:
            if case.impossible:
                yield "REASON-CODE", f"the plan says {row.code}; no truck could do it even alone"
            if row.code == "LOADING" and plan is not None:
                yield from _loading(plan, row, case, loads)
            if row.code == "STORE":
                yield from self._store(plan, row, order)
            if row.code == "FULL" and plan is not None:
                yield from _full(case, loads)
                yield from self._idle(row, case, loads)
        yield from self._price(row, order)
        yield from check_offers(row.reason, case.alone, case.allowed, loads, self._weather)

    def _case(self, row: NotDone, order: Order) -> Case:
        trucks = self._day.workbook.trucks
        pin = PINNED.search(row.reason)
        allowed = [
            truck
            for name, truck in trucks.items()
            if (order.only_trucks is None or name in order.only_trucks)
            and name not in order.never_trucks
        ]
        if pin is not None:
            allowed = [truck for truck in allowed if truck.truck_id == pin[1]]
        found = []
        for truck in allowed:
            key = truck.truck_id, order.mix_id
            if key not in self._berths:
                self._berths[key] = list(berths(self._day.workbook, truck, order.mix_id))
            found += self._berths[key]
        carrier = self._day.workbook.mixes[order.mix_id].carrier_gal_per_1000_ft2
        gal = order.area_ft2 * carrier / 1000
        alone = {
            truck.truck_id: Alone(
                self._day,
                self._travel[truck.truck_id],
                self._strengths,
                order,
                gal,
                self._windows[order.order_id],
            )
            for truck in trucks.values()
        }
        run_ft = self._day.workbook.properties[order.property_id].hose_run_ft
        return Case(self._day, order, gal, run_ft, tuple(allowed), tuple(found), alone)

    def _idle(self, row: NotDone, case: Case, loads: PlannedLoads) -> Iterator[tuple[str, str]]:
        """A truck that stays home and lacks only the license is named, and no other."""
        unable = shut_words(self._day, case.order)[0]
        for name, truck in self._day.workbook.trucks.items():
            could = loads.truck(name).idle and any(
                one.line.hose_ft >= case.run_ft and one.usable_gal >= case.gal
                for one in berths(self._day.workbook, truck, case.order.mix_id)
            )
            lacks = f"nobody on {name} has "
            if (could and lacks in unable) != (f"{name} has nothing to do: {lacks}" in row.reason):
                words = "and the reason does not say it" if could else "and the reason says it"
                yield "REASON-FIGURE", f"{name} stays home for want of a license: {words}"

    def _price(self, row: NotDone, order: Order) -> Iterator[tuple[str, str]]:
        """What leaving it out is priced at (rule 31)."""
        said = re.search(rf"priced at {NUMBER}(?: today, {NUMBER} on its last day)?", row.reason)
        if said is None:
            if row.code == "PRICE":
                yield "REASON-FIGURE", f"'{row.reason}' does not say its price"
            return
        worth, today = self._due.prices(order)
        for found, right in ((said[1], today), (said[2] or said[1], worth)):
            if abs(float(found) - right) > 0.51:
                yield "REASON-FIGURE", f"a price of {found}; by the tables it is {right:.2f}"
        more = re.search(rf"would cost {NUMBER} more", row.reason)
        serve = re.search(rf"a price of {NUMBER} would", row.reason)
        if row.code == "PRICE" and more and float(more[1]) + 0.51 < today:
            yield "REASON-FIGURE", f"to cost {more[1]} more is less than its price of {today:.2f}"
        if more and serve and not -0.01 <= float(serve[1]) - float(more[1]) <= 1.01:
            yield "REASON-FIGURE", f"a price of {serve[1]} for what costs {more[1]} more"

    def _store(self, plan: Plan | None, row: NotDone, order: Order) -> Iterator[tuple[str, str]]:
        said = re.findall(
            r"the store holds (.+?) of (.+?); the orders that go first take (.+?), margins and "
            r"hoses included, and with this one (.+?) would be lacking",
            row.reason,
        )
        if not said:
            yield "REASON-FIGURE", f"'{row.reason}' does not say what the store lacks"
        products = self._day.workbook.products
        held = held_in_store(self._day)
        limited = {products[name].name: name for name in held}
        mine = {products[name].name for name in self._strengths[order.mix_id].product}
        if said and not any(name in mine for _, name, _, _ in said):
            yield "REASON-CODE", "none of the products that it names is in its mix"
        for stock, name, used, lacking in said:
            if name not in limited:
                yield "REASON-CODE", f"{name} is not limited in the store"
                continue
            facts = [(stock, held[limited[name]])]
            if plan is not None:
                taken, _ = taken_from_store(plan, held, self._strengths)
                facts.append((used, taken[limited[name]]))
            for text, right in facts:
                if abs(amount(text) - right) > 0.04 * right + 0.001:
                    yield "REASON-FIGURE", f"{text} of {name}; by the tables it is {right:.3f}"
            if amount(lacking) <= 0.0:
                yield "REASON-FIGURE", f"'{lacking}' of {name} is lacking"


@dataclass(frozen=True)
class Case:
    """One unserved order beside the trucks that may do it. alone: by truck."""

    day: Day
    order: Order
    gal: float
    run_ft: float
    allowed: tuple[Truck, ...]
    berths: tuple[Berth, ...]
    alone: Mapping[str, Alone]

    @property
    def reach(self) -> list[Berth]:
        """Those whose hose is long enough."""
        return [one for one in self.berths if one.line.hose_ft >= self.run_ft]

    @property
    def able(self) -> list[Berth]:
        """Those that hold the order, apart from filling the hose."""
        return [one for one in self.reach if one.usable_gal >= self.gal]

    def by_tables(self) -> tuple[str, tuple[str, ...]] | None:
        """The code that the tables alone decide, and what its words must say."""
        if not self.allowed:
            return "NO-TRUCK", ()
        if not self.berths:
            return "NO-MIX", (self.order.mix_id,)
        if not self.reach:
            longest = max(one.line.hose_ft for one in self.berths)
            return "NO-HOSE", (f"needs {self.run_ft:g} ft", f"has {longest:g} ft")
        most = max(one.usable_gal for one in self.reach)
        if most < self.gal - CLOSE_GAL:
            return "TOO-LARGE", (f"{self.gal:.1f} gal of {self.order.mix_id}", f"{most:g} gal (")
        return None

    @property
    def hose_takes_it(self) -> bool:
        """Whether no truck holds the order once it has filled its hose."""
        return not any(one.holds(self.gal, hose_full=False) for one in self.reach)

    @property
    def impossible(self) -> bool:
        """Whether no truck could do it, for want of time or for weight."""
        return all(
            self.alone[one.truck.truck_id].surely_too_late(one)
            # An order before it may have filled the hose.
            or replace(self.alone[one.truck.truck_id], hose_full=True).over_lb(one) > 1.0
            for one in self.able
        )

    def possible(self) -> Truck | None:
        """A truck that could do it if it did nothing else."""
        for one in self.able:
            if self.alone[one.truck.truck_id].surely_back_min(one) is not None:
                return one.truck
        return None

    def not_alone(self, row: NotDone) -> Iterator[tuple[str, str]]:
        """What a reason says of trucks that have nothing else to do."""
        if row.code == "SITE" and " wait " in row.reason:
            if not any(site.trucks_at_once for site in self.day.workbook.sites.values()):
                yield "REASON-CODE", "no site limits how many trucks fill at one time"
            return
        truck = self.possible()
        if truck is not None:
            words = f"{truck.truck_id} could do it if it did nothing else"
            yield "REASON-CODE", f"the plan says {row.code}, and {words}"
            return
        windows = next(iter(self.alone.values())).windows
        if row.code == "TOO-HEAVY":
            if not any(self.alone[one.truck.truck_id].over_lb(one) > -1.0 for one in self.able):
                yield "REASON-CODE", "the plan says TOO-HEAVY, and every truck can carry it"
            if not _says(row.reason, f"{self.gal:.1f} gal of {self.order.mix_id}"):
                yield "REASON-FIGURE", f"it is {self.gal:.1f} gal of {self.order.mix_id}"
        if row.code == "NEVER-OPEN" and windows != ():
            yield "REASON-CODE", "the plan says NEVER-OPEN, and its times leave some"
        if row.code == "WINDOW":
            yield from self._window(row, windows)

    def _window(
        self, row: NotDone, windows: tuple[Window, ...] | None
    ) -> Iterator[tuple[str, str]]:
        if not windows:
            yield "REASON-CODE", "the plan says WINDOW, and it has no window"
            return
        last = max(window.close_min for window in windows)
        spans = " and ".join(
            f"{clock_text(one.open_min)} to {clock_text(one.close_min)}" for one in windows
        )
        if said := re.match(rf"(\S+) takes longer .* longest window of {NUMBER} min", row.reason):
            right = max(one.close_min - one.open_min for one in windows)
            work = [self.alone[said[1]].work_min(one) for one in self._of(said[1])]
            if abs(float(said[2]) - right) > 0.51:
                yield "REASON-FIGURE", f"its longest window is {right:.0f} min"
            if not work or min(work) <= right:
                yield "REASON-FIGURE", f"{said[1]} does not take longer than that"
        elif said := re.match(
            r"(\S+) must be back by (.+?M), and its windows \((.+?)\)", row.reason
        ):
            truck = self.day.workbook.trucks.get(said[1])
            if truck is None or clock_text(truck.latest_return_min) != said[2]:
                yield "REASON-FIGURE", f"{said[1]} must not be back by {said[2]}"
            if said[3] != spans:
                yield "REASON-FIGURE", f"its windows are {spans}"
        elif said := re.match(
            r"its last window closes at (.+?); (\S+) straight from .* done at (.+?M)", row.reason
        ):
            ends = [self.alone[said[2]].straight_end_min(one) for one in self._of(said[2])]
            if said[1] != clock_text(last):
                yield "REASON-FIGURE", f"its last window closes at {clock_text(last)}"
            elif not ends or minutes(said[3]) < min(ends) - 1.0:
                yield "REASON-FIGURE", f"{said[2]} cannot be done with it at {said[3]}"
            elif minutes(said[3]) < last - 1.0:
                yield "REASON-FIGURE", f"{said[3]} is before its last window closes"
        else:
            yield "REASON-FIGURE", f"'{row.reason}' does not say what its windows lack"

    def _of(self, truck_id: str) -> list[Berth]:
        return [one for one in self.able if one.truck.truck_id == truck_id]


def _loading(
    plan: Plan, row: NotDone, case: Case, loads: PlannedLoads
) -> Iterator[tuple[str, str]]:
    for one in case.able:
        if loads.gal(one, case.order.mix_id) >= case.gal + CLOSE_GAL:
            yield "REASON-CODE", f"{one.truck.truck_id} is loaded with {case.order.mix_id}"
    names = list(dict.fromkeys(one.truck.truck_id for one in case.able))
    said = row.reason.partition(" could carry ")[0]
    right = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
    if said != right:
        yield "REASON-FIGURE", f"'{said}' could carry it; by the tables it is {right}"
    left = re.search(r"would leave out (.+?) instead", row.reason)
    done = {work.order_id for truck in plan.trucks for stop in truck.stops for work in stop.orders}
    for name in re.split(r", | and ", left[1]) if left else ():
        if name not in done and not re.fullmatch(r"\d+ others", name):
            yield "REASON-FIGURE", f"{name} is not served, and so cannot be left out for it"


def _full(case: Case, loads: PlannedLoads) -> Iterator[tuple[str, str]]:
    for one in case.able:
        name = one.truck.truck_id
        if loads.truck(name).idle and case.alone[name].surely_back_min(one) is not None:
            yield "REASON-CODE", f"the plan says FULL, and {name} stays home and could do it"
            return


def amount(text: str) -> float:
    """Gallons or pounds of '2 gal 1 qt 6 fl oz'; -1 where it is no amount."""
    size = {"gal": 1.0, "qt": 0.25, "fl oz": 1 / 128, "mL": 1 / 3785.411784}
    size |= {"lb": 1.0, "oz wt": 1 / 16, "g": 1 / 453.59237}
    parts = re.findall(r"([\d.]+) (gal|qt|fl oz|mL|lb|oz wt|g)\b", text)
    return sum(float(number) * size[unit] for number, unit in parts) if parts else -1.0
