"""What a truck could do for one order if it did nothing else all day, worked out from the tables:
where its mix may go, the least weight on board, the earliest return. Written apart from
`planner.routing` and `planner.mixing`."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import chain, combinations
from math import ceil, inf

from planner.day.clock import Window
from planner.day.day import Day, Workbook
from planner.day.fleet import Compartment, Line, Truck
from planner.day.orders import Order
from planner.day.places import Site
from planner.day.products import Scope
from planner.plan.audit.case import hose_need_gal, over_heel, start_gal, unloaded_lb
from planner.plan.audit.rules_loading import groups_of, scopes_apart
from planner.plan.audit.strength import Strength
from planner.roads.travel import Travel

HAIR = 1e-6
CLOSE_GAL = 0.02


@dataclass(frozen=True)
class Berth:
    """The compartments of one line of a truck that may all take a mix."""

    truck: Truck
    line: Line
    mix_id: str
    tanks: tuple[Compartment, ...]

    @property
    def usable_gal(self) -> float:
        """Gallons that the pump reaches when they are full."""
        return sum(tank.capacity_gal - tank.heel_gal for tank in self.tanks)

    def holds(self, gal: float, *, hose_full: bool) -> bool:
        """Whether they hold so many gallons, and the hose's where it has to be filled first."""
        more = 0.0 if hose_full else hose_need_gal(self.line, self.mix_id)
        return self.usable_gal >= gal + more - CLOSE_GAL


def berths(book: Workbook, truck: Truck, mix_id: str) -> Iterator[Berth]:
    """Where a mix may go on a truck that carries its leftovers only (rules 4, 6 and 7)."""
    riding = [(tank.line_id, tank.last_mix) for tank in truck.compartments if over_heel(tank)]
    made = any(site_makes(site, mix_id) for site in book.sites.values())
    for line in truck.lines:
        aboard = [*riding, (line.line_id, mix_id)]
        if any(_clash(book, one, other) for one, other in combinations(aboard, 2)):
            continue
        tanks = tuple(
            tank
            for tank in sorted(truck.compartments, key=lambda tank: tank.position)
            if tank.line_id == line.line_id and _may_take(book, truck, tank, mix_id, made)
        )
        if tanks:
            yield Berth(truck, line, mix_id, tanks)


def site_makes(site: Site, mix_id: str) -> bool:
    """Whether a mix may be made at a site."""
    return site.mixes is None or mix_id in site.mixes


def _may_take(book: Workbook, truck: Truck, tank: Compartment, mix_id: str, made: bool) -> bool:
    groups = groups_of(book, mix_id)
    if tank.reserved_for is not None and tank.reserved_for not in groups:
        return False
    if tank.reserved_for is None and groups & {one.reserved_for for one in truck.compartments}:
        return False
    return tank.last_mix == mix_id if over_heel(tank) else made


def _clash(book: Workbook, one: tuple[str, str | None], other: tuple[str, str | None]) -> bool:
    if one[1] is None or other[1] is None:
        return False
    scope = Scope.LINE if one[0] == other[0] else Scope.TRUCK
    return scope in scopes_apart(book, one[1], other[1])


@dataclass(frozen=True)
class Alone:
    """One order on one truck with nothing else to do. gal: of the order (or of a part of it);
    windows: None = any time; later_min, more_lb, sites_open: what an offer of room adds;
    hose_full: an order before it has filled the hose; set_up: the truck stands there for another
    order anyway; sprayed: mixes of which other orders may have used up what was left aboard."""

    day: Day
    travel: Travel
    strengths: Mapping[str, Strength]
    order: Order
    gal: float
    windows: tuple[Window, ...] | None
    later_min: float = 0.0
    more_lb: float = 0.0
    sites_open: bool = False
    hose_full: bool = False
    set_up: bool = False
    sprayed: frozenset[str] = frozenset()

    def over_lb(self, berth: Berth) -> float:
        """Pounds of the lightest way to carry the order above the rating."""
        some = chain.from_iterable(
            combinations(berth.tanks, count + 1) for count in range(len(berth.tanks))
        )
        lightest = min((self._weight_lb(berth, tanks) for tanks in some), default=inf)
        return lightest - berth.truck.gvwr_lb - self.more_lb

    def surely_back_min(self, berth: Berth) -> float | None:
        """When it would be back by a plain trip that keeps every rule: filled in the yard, or at a
        site on the way where the yard does not make its mix. None = there is none such."""
        if self.over_lb(berth) > 0.0:
            return None
        backs = [
            self._back_min(berth, site, lunch)
            for site in self._sites(berth)
            for lunch in (None, 0, 1)
        ]
        return min((back for back in backs if back is not None), default=None)

    def surely_too_late(self, berth: Berth) -> bool:
        """Whether not even driving straight there and back, without lunch or refill, fits."""
        truck = berth.truck
        reached = self._departs_min(truck) + self._drive_min(truck.yard_id, self.order.property_id)
        end = self._work_end_min(berth, reached)
        home = self._drive_min(self.order.property_id, truck.yard_id)
        return end is None or end + home > self._latest_min(truck) + HAIR

    def work_min(self, berth: Berth) -> float:
        """Set-up and spraying."""
        setup_min = 0.0 if self.set_up else self.day.workbook.settings.setup_min_per_visit
        return setup_min + self.gal / berth.line.gun_gal_per_min

    def straight_end_min(self, berth: Berth) -> float:
        """When it would be done if no window bound it and it drove there straight."""
        truck = berth.truck
        drive_min = self._drive_min(truck.yard_id, self.order.property_id)
        return self._departs_min(truck) + drive_min + self.work_min(berth)

    def _departs_min(self, truck: Truck) -> float:
        """Soonest: inspected, with nothing to clean or to fill (rule 38)."""
        return truck.shift_start_min + truck.inspection_min

    def _latest_min(self, truck: Truck) -> float:
        """By when it must be back to be washed down, and its crew released, in time."""
        latest = truck.shift_end_min + truck.overtime_most_min + self.later_min
        return latest - truck.washdown_min - truck.paperwork_min

    def _need_gal(self, berth: Berth) -> float:
        return self.gal if self.hose_full else self.gal + hose_need_gal(berth.line, berth.mix_id)

    def _levels(self, berth: Berth, tanks: tuple[Compartment, ...]) -> dict[str, float] | None:
        """Gallons in the loaded compartments before departure, margin left out (rules 10 and 11);
        None = they do not hold enough."""
        mix_id = self.order.mix_id
        levels = {tank.compartment_id: start_gal(tank, mix_id, False) for tank in tanks}
        if mix_id in self.sprayed:
            levels = {
                tank.compartment_id: min(levels[tank.compartment_id], tank.heel_gal)
                for tank in tanks
            }
        left = self._need_gal(berth)
        if sum(max(0.0, levels[t.compartment_id] - t.heel_gal) for t in tanks) >= left:
            return levels
        for tank in tanks:
            takes = min(left, tank.capacity_gal - tank.heel_gal)
            had = levels[tank.compartment_id]
            # What is on board counts, also where it is more than its share.
            takes = max(takes, min(left, had - tank.heel_gal))
            if takes > HAIR:
                added = ceil(max(0.0, tank.heel_gal + takes - had) - HAIR)
                levels[tank.compartment_id] = min(tank.capacity_gal, had + added)
                left -= takes
        return levels if left <= HAIR else None

    def _weight_lb(self, berth: Berth, tanks: tuple[Compartment, ...]) -> float:
        levels = self._levels(berth, tanks)
        if levels is None or self.order.mix_id not in self.strengths:
            return inf
        pounds = unloaded_lb(berth.truck)
        pounds += sum(levels.values()) * self.strengths[self.order.mix_id].weight_lb
        for tank in berth.truck.compartments:
            if tank.compartment_id not in levels and tank.last_mix is not None:
                inside = self.strengths.get(tank.last_mix)
                left = tank.leftover_gal
                if tank.last_mix in self.sprayed:
                    left = min(left, tank.heel_gal)
                pounds += left * inside.weight_lb if inside is not None else inf
        return pounds

    def _sites(self, berth: Berth) -> list[Site] | list[None]:
        """Where it is filled on the way; None = in the yard, before it leaves."""
        sites = self.day.workbook.sites
        yard = sites.get(berth.truck.yard_id)
        if yard is not None and site_makes(yard, self.order.mix_id):
            return [None]
        return [site for site in sites.values() if site_makes(site, self.order.mix_id)]

    def _back_min(self, berth: Berth, site: Site | None, lunch: int | None) -> float | None:
        """Back in the yard, filled there or at a site on the way. lunch: taken before (0) or after
        (1) the visit; None = not at all."""
        truck, home = berth.truck, self.order.property_id
        now, here = self._departs_min(truck), truck.yard_id
        if truck.yard_loading == "morning":
            now += self._morning_min(berth, in_yard=site is None)
        if site is not None:
            now += self._drive_min(here, site.site_id)
            if site.open_min is not None and not self.sites_open:
                now = max(now, site.open_min)
            # The fullest that it can be is the longest fill.
            gal = sum(tank.capacity_gal for tank in berth.tanks)
            now += site.setup_min + gal / site.fill_gal_per_min
            if site.close_min is not None and not self.sites_open and now > site.close_min:
                return None
            here = site.site_id
        for place in (0, 1):
            if lunch == place:
                begin = max(now, truck.lunch_earliest_min or 0.0)
                if (site is None and place == 0) or begin > (truck.lunch_latest_min or 0.0):
                    return None
                now = begin + truck.lunch_min
            if place == 0:
                held, gun = berth.line.hose_mix, berth.line.gun_gal_per_min
                change_gal = 0.0 if held is None else hose_need_gal(berth.line, berth.mix_id)
                there = now + self._drive_min(here, home)
                end = self._work_end_min(berth, there, change_gal / gun)
                if end is None:
                    return None
                now = end
        back = now + self._drive_min(home, truck.yard_id)
        latest = truck.lunch_latest_min
        owed = truck.lunch_min > 0 and latest is not None and truck.shift_start_min < latest < back
        if (lunch is not None) != owed or back > self._latest_min(truck):
            return None
        return back

    def _morning_min(self, berth: Berth, *, in_yard: bool) -> float:
        """The most that cleaning and filling can take before it leaves."""
        settings, truck = self.day.workbook.settings, berth.truck
        minutes = settings.rinse_count * settings.rinse_min_each * len(truck.compartments)
        if in_yard:
            yard = self.day.workbook.sites[truck.yard_id]
            gal = sum(tank.capacity_gal for tank in berth.tanks)
            minutes += yard.setup_min + gal / yard.fill_gal_per_min
        return minutes

    def _work_end_min(self, berth: Berth, reached: float, change_min: float = 0.0) -> float | None:
        """When the visit ends, in the earliest window that holds it with its change of mix."""
        windows = (Window(0.0, inf),) if self.windows is None else self.windows
        for window in sorted(windows):
            end = max(reached, window.open_min) + change_min + self.work_min(berth)
            if end <= window.close_min + HAIR:
                return end
        return None

    def _drive_min(self, start: str, end: str) -> float:
        row = self.travel.index()
        return float(self.travel.minutes[row[start], row[end]])
