"""What is known of a sequence of orders before any refill is placed: sums, and what is left."""

from __future__ import annotations

from math import ceil, inf

from planner.routing.exact.route_cost import SLACK_MIN, TruckDay
from planner.routing.exact.tanks import SLACK_GAL


class SequenceNumbers:
    """A truck's orders in one sequence; every list is by place in it.

    place, windows, work (changeover and spraying); by mix: sprayed, hosed and count before each
    place, first_at (places of its orders); rest, rest_min: least money and minutes from the arrival
    at each place to the end. used: mixes of the sequence; makes, first_makes: those of them that a
    site or the departure makes; limited: whether some site makes some of them only.
    """

    def __init__(self, day: TruckDay, sequence: list[int]) -> None:
        self.day, self.sequence = day, sequence
        self.size = len(sequence)
        self.place = [day.place[order] for order in sequence]
        self.windows = [day.windows[order] for order in sequence]
        hose, changeover, _, _ = day.hoses(sequence)
        self.work = [
            minutes + day.spray_min[order]
            for minutes, order in zip(changeover, sequence, strict=True)
        ]
        self._sums(hose)
        self.used = [k for k in range(len(day.mixes)) if self.count[k][-1] > 0]
        self._rest()
        self.makes = [tuple(k for k in made if k in self.used) for made in day.makes]
        self.first_makes = tuple(k for k in day.first_makes if k in self.used)
        made_somewhere = [*(made for made in self.makes if made), self.first_makes]
        self.limited = any(len(made) < len(self.used) for made in made_somewhere)
        self._near: dict[tuple[int, int], list[int]] = {}

    def _sums(self, hose: list[float]) -> None:
        """Running sums before each order: sprayed, into hoses, and count, by mix."""
        mixes = range(len(self.day.mixes))
        self.sprayed = [[0.0] for _ in mixes]
        self.hosed = [[0.0] for _ in mixes]
        self.count = [[0] for _ in mixes]
        self.first_at: list[list[int]] = [[] for _ in mixes]
        for at, order in enumerate(self.sequence):
            mine = self.day.mix_of[order]
            self.first_at[mine].append(at)
            for k in mixes:
                here = k == mine
                self.sprayed[k].append(self.sprayed[k][-1] + (self.day.gal[order] if here else 0.0))
                self.hosed[k].append(self.hosed[k][-1] + (hose[at] if here else 0.0))
                self.count[k].append(self.count[k][-1] + here)

    def _rest(self) -> None:
        """Least money and minutes from the arrival at each order to the end: no waiting, and only
        the refills (their set-ups) that the gallons ask for in any case."""
        day, truck = self.day, self.day.truck
        size = self.size
        self.rest, self.rest_min = [0.0] * (size + 1), [0.0] * (size + 1)
        there = day.yard_place
        for at in range(size - 1, -1, -1):
            here = self.place[at]
            same = at > 0 and self.place[at - 1] == here
            minutes = self.work[at] + (0.0 if same else day.setup_min) + day.minutes[here][there]
            money = minutes * truck.pay_per_min + day.miles[here][there] * truck.cost_per_mile
            self.rest_min[at] = minutes + self.rest_min[at + 1]
            self.rest[at] = money + self.rest[at + 1]
            there = here
        self._rest_of_refills()

    def _rest_of_refills(self) -> None:
        """Adds the refills that the gallons ask for in any case: set-up, the shortest detour from
        there on, and what must be poured beyond one tankful."""
        day, truck = self.day, self.day.truck
        size = self.size
        setup = min((stop[1] for stop in day.sites), default=0.0)
        flow = max((stop[2] for stop in day.sites), default=inf)
        longer, further = inf, inf
        for at in range(size - 1, -1, -1):
            here = self.place[at - 1] if at > 0 else day.start_place
            there = self.place[at]
            for stop in day.sites:
                site = stop[0]
                minutes = day.minutes[here][site] + day.minutes[site][there]
                longer = min(longer, minutes - day.minutes[here][there])
                miles = day.miles[here][site] + day.miles[site][there]
                further = min(further, miles - day.miles[here][there])
            tankfuls, beyond = 1, 0.0
            for k in self.used:
                need = self.sprayed[k][size] - self.sprayed[k][at]
                need += self.hosed[k][size] - self.hosed[k][at]
                usable = day.tanks.usable_gal[k] + SLACK_GAL
                if need > usable:
                    tankfuls = max(tankfuls, ceil(need / usable))
                    beyond += need - usable
            if tankfuls > 1:
                # A detour may come out below nothing where the fastest way is not the shortest.
                minutes = (tankfuls - 1) * (setup + min(0.0, longer)) + beyond / flow
                minutes += max(0.0, longer)
                miles = (tankfuls - 1) * min(0.0, further) + max(0.0, further)
                self.rest_min[at] += minutes
                self.rest[at] += minutes * truck.pay_per_min + miles * truck.cost_per_mile

    def hopeless(
        self, clock: float, miles: float, lunched: bool, at: int, here: int, best_cost: float
    ) -> bool:
        """Whether the day cannot end in time, or only at best_cost or more, when the order at `at`
        (or the yard) is driven to from `here` now."""
        day, truck = self.day, self.day.truck
        there = self.place[at] if at < self.size else day.yard_place
        drive = day.minutes[here][there]
        back = clock + drive + self.rest_min[at]
        if not lunched and day.lunch_owed(back):
            back += truck.lunch_min
        if back > truck.latest_return_min + SLACK_MIN:
            return True
        money = day.price(clock, miles, lunched) + self.rest[at]
        money += drive * truck.pay_per_min + day.miles[here][there] * truck.cost_per_mile
        overtime = back - max(clock, truck.shift_end_min)
        if overtime > 0.0:
            money += overtime * truck.overtime_pay_per_min
        return money >= best_cost

    def need(self, k: int, at: int, count: int) -> tuple[float, float, float]:
        """Sprayed, into hoses and both, from the order at `at` until `count` orders of the mix are
        done."""
        until = self.size if count == self.count[k][-1] else self.first_at[k][count]
        spray = self.sprayed[k][until] - self.sprayed[k][at]
        hose = self.hosed[k][until] - self.hosed[k][at]
        return spray, hose, spray + hose

    def sites_near(self, at: int, most: int | None) -> list[int]:
        """Rows of sites worth a stop before the order at `at` (or the return), by detour."""
        day = self.day
        here = self.place[at - 1] if at > 0 else day.start_place
        there = self.place[at] if at < self.size else day.yard_place
        sites = self._near.get((here, there))
        if sites is None:
            detour = sorted(
                (day.minutes[here][stop[0]] + day.minutes[stop[0]][there], row)
                for row, stop in enumerate(day.sites)
                if self.makes[row]
            )
            sites = [row for _, row in detour]
            sites = sites[:most]
            self._near[here, there] = sites
        return sites


def finish(arrive: float, work: float, spans: list[tuple[float, float]] | None) -> float:
    """When work of that length ends in the earliest window that fits, inf when none does."""
    if spans is None:
        return arrive + work
    for opens, closes in spans:
        end = (opens if opens > arrive else arrive) + work
        if end <= closes + SLACK_MIN:
            return end
    return inf
