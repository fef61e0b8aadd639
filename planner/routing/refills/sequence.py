"""What a truck's sequence of orders asks for, whatever refills are put into it."""

from collections.abc import Sequence
from itertools import accumulate, product
from math import inf

from planner.routing.exact.route_cost import SLACK_MIN, TruckDay
from planner.routing.exact.tanks import SLACK_GAL
from planner.routing.refills.legs import ClockPiece, OrderStep, course, lunch, merged

Courses = dict[int | None, list[ClockPiece]]
"""Of a leg: place of lunch in the sequence, None = without -> clock to the end of its orders."""


class OrderSequence:
    """orders: rows of problem.orders. used: mixes. count: by mix, how many of its orders are among
    the first so many; need_of: by mix, gallons until so many of its orders are done. sites: rows of
    those that make a used mix; limited: whether one of them, or the yard, lacks one."""

    def __init__(self, day: TruckDay, orders: Sequence[int]) -> None:
        self.day, self.orders, self.size = day, tuple(orders), len(orders)
        hose_gal, changeover_min, _, _ = day.hoses(orders)
        mixes = range(len(day.mixes))
        mine = [day.mix_of[order] for order in orders]
        self.used = sorted(set(mine))
        self.count = [list(accumulate((k == mix for k in mine), initial=0)) for mix in mixes]
        self.spray_of = [
            _sums(day.gal[order] for order, k in zip(orders, mine, strict=True) if k == mix)
            for mix in mixes
        ]
        self.hose_of = [
            _sums(gal for gal, k in zip(hose_gal, mine, strict=True) if k == mix) for mix in mixes
        ]
        places = [day.place[order] for order in orders]
        self.steps = [
            OrderStep(
                order,
                places[at],
                changeover_min[at] + day.spray_min[order],
                at == 0 or places[at] != places[at - 1],
            )
            for at, order in enumerate(orders)
        ]
        self.sites = [
            row for row, makes in enumerate(day.makes) if any(k in makes for k in self.used)
        ]
        lacking = [set(self.used) - set(day.makes[row]) for row in self.sites]
        self.limited = any(lacking) or not set(self.used) <= set(day.first_makes)
        self._legs: dict[tuple[int, int], list[Courses]] = {}
        self._bare: dict[tuple[int, int], list[float]] = {}
        self._whole: dict[tuple[int, int, int], list[tuple[bool, list[ClockPiece]]]] = {}
        self._miles = _sums(
            day.miles[places[at - 1]][places[at]] if at and self.steps[at].new_visit else 0.0
            for at in range(self.size)
        )

        truck = day.truck
        self.least_money = self._least_home(
            truck.pay_per_min, truck.cost_per_mile, day.preferences.refill
        )
        self.least_min = self._least_home(1.0, 0.0, 0.0)
        self.least_fixed = self._least_home(0.0, truck.cost_per_mile, day.preferences.refill)

    def need_gal(self, mix: int, done: int, until: int) -> float:
        """Gallons of a mix from when `done` of its orders are done until `until` of them are."""
        spray, hose = self.spray_of[mix], self.hose_of[mix]
        return spray[until] - spray[done] + hose[until] - hose[done]

    def total(self, mix: int) -> int:
        """How many orders a mix has."""
        return self.count[mix][-1]

    def place_after(self, site: int) -> int:
        """Where a truck stands at a site, or at the start of its day (-1)."""
        return self.day.start_place if site < 0 else self.day.sites[site][0]

    def leg(self, site: int, gap: int, until: int) -> Courses:
        """The ways from a fill (site -1 = the start) before the order at `gap` to the end of the
        order before `until`, with lunch at any place."""
        known = self._legs.setdefault((gap, site), [])
        while len(known) <= until - gap:
            known.append(self._longer(known, site, gap))
        return known[until - gap]

    def whole_leg(self, site: int, gap: int, until: int) -> list[tuple[bool, list[ClockPiece]]]:
        """The same without the places of lunch: whether it is had, and the clock."""
        found = self._whole.get((site, gap, until))
        if found is None:
            courses = self.leg(site, gap, until)
            with_lunch = [p for at, pieces in courses.items() if at is not None for p in pieces]
            found = [(False, courses.get(None, [])), (True, merged(with_lunch))]
            self._whole[site, gap, until] = found
        return found

    def _longer(self, known: list[Courses], site: int, gap: int) -> Courses:
        day, until = self.day, gap + len(known)
        if not known:
            courses: Courses = {None: [ClockPiece(-inf, inf, 0.0)]}
        else:
            step, moving = self.steps[until - 1], until - 1 > gap
            here = self.steps[until - 2].place if moving else self.place_after(site)
            courses = {
                at: course(day, [step], here, pieces, visiting=moving and at != until - 1)
                for at, pieces in known[-1].items()
            }
        if day.truck.lunch_min > 0.0 and (site >= 0 or until > gap or day.is_out):
            courses[until] = lunch(day, courses[None])
        return {at: pieces for at, pieces in courses.items() if pieces}

    def promises(self) -> list[dict[int, int]]:
        """RefillWays in which what is on board of mixes that the yard does not make may be meant to
        last: by mix, for how many of its orders."""
        choices = []
        for mix in self.used:
            if mix not in self.day.first_makes:
                on_board = self.day.tanks.pumpable(self.day.tanks.start, mix)
                choices.append(
                    [
                        (mix, until)
                        for until in range(self.total(mix) + 1)
                        if self.need_gal(mix, 0, until) <= on_board + SLACK_GAL
                    ]
                )
        return [dict(one) for one in product(*choices)]

    def leg_miles(self, site: int, gap: int, until: int, there: int) -> float:
        """Miles from a site (-1 = the start) through the orders of a leg to a place."""
        here, miles = self.place_after(site), self.day.miles
        if until == gap:
            return miles[here][there]
        on_the_way = self._miles[until] - self._miles[gap + 1]
        first, last = self.steps[gap].place, self.steps[until - 1].place
        return miles[here][first] + on_the_way + miles[last][there]

    def least_leg(self, site: int, gap: int, until: int, there: int) -> float:
        """Least money from a site through a leg to a place, without pouring, waits and lunch."""
        pay, mile = self.day.truck.pay_per_min, self.day.truck.cost_per_mile
        known = self._bare.setdefault((site, gap), [])
        while len(known) <= until - gap:
            if not known:
                known.append(0.0 if site < 0 else self.day.sites[site][1] * pay)
                continue
            step = self.steps[gap + len(known) - 1]
            moving = len(known) > 1
            here = self.steps[gap + len(known) - 2].place if moving else self.place_after(site)
            minutes = step.busy_min
            money = 0.0
            if step.new_visit or not moving:
                minutes += self.day.minutes[here][step.place] + self.day.setup_min
                money = self.day.miles[here][step.place] * mile
            known.append(known[-1] + minutes * pay + money)
        here = self.steps[until - 1].place if until > gap else self.place_after(site)
        last = self.day.minutes[here][there] * pay + self.day.miles[here][there] * mile
        return known[until - gap] + last

    def _least_home(self, pay: float, mile: float, refill: float) -> list[list[float]]:
        """Least of minutes × pay + miles × mile + refills × refill (no pouring, no waits) from the
        arrival at each site before each order to the end; last in each list: from the start."""
        day = self.day

        def drive(here: int, there: int) -> float:
            return day.minutes[here][there] * pay + day.miles[here][there] * mile

        every = [*self.sites, -1]
        least = [[inf] * (len(day.sites) + 1) for _ in range(self.size)]
        for gap in range(self.size - 1, -1, -1):
            for site in every if gap == 0 else self.sites:
                makes = day.first_makes if site < 0 else day.makes[site]
                step = self.steps[gap]
                spent = 0.0 if site < 0 else day.sites[site][1] * pay
                spent += drive(self.place_after(site), step.place)
                spent += (day.setup_min + step.busy_min) * pay
                best = inf
                for until in range(gap + 1, self.size + 1):
                    if any(
                        self.need_gal(k, self.count[k][gap], self.count[k][until])
                        > day.tanks.usable_gal[k] + SLACK_GAL
                        for k in makes
                    ):
                        break
                    here = self.steps[until - 1].place
                    if until == self.size:
                        best = min(best, spent + drive(here, day.yard_place))
                        break
                    for then in self.sites:
                        more = drive(here, day.sites[then][0]) + refill
                        best = min(best, spent + more + least[until][then])
                    step = self.steps[until]
                    spent += drive(here, step.place) + step.busy_min * pay
                    spent += day.setup_min * pay if step.new_visit else 0.0
                least[gap][site] = best
            for _ in range(2 if self.limited else 0):
                # Two sites before one order.
                once = least[gap].copy()
                for site in every if gap == 0 else self.sites:
                    setup = 0.0 if site < 0 else day.sites[site][1] * pay
                    for then in self.sites:
                        more = drive(self.place_after(site), day.sites[then][0])
                        more += setup + refill + once[then]
                        least[gap][site] = min(least[gap][site], more)
        return least

    def home_by(self, lunched: bool) -> float:
        """Latest return: by the shift, and by the hour after which lunch is owed."""
        truck = self.day.truck
        latest = truck.latest_return_min + SLACK_MIN
        if not lunched and self.day.lunch_owed(inf):
            latest = min(latest, truck.lunch_latest_min)
        return latest


def _sums(gallons: object) -> list[float]:
    return list(accumulate(gallons, initial=0.0))  # type: ignore[call-overload]
