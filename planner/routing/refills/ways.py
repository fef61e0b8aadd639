"""All ways in which one truck can put refills and lunch into its sequence of orders below a cost.

A node is a refill (or the departure): before which order, at which site, the how-many-th of the
day, lunch had or not, gallons on board, and how long what it does not pour must last. A way on from
it fixes the next refill, and with it what is poured, to the gallon; only waiting for other trucks
is left open.
"""

import heapq
from collections.abc import Callable, Iterator
from math import inf

from planner.routing.exact.route_cost import LUNCH, SLACK_MIN
from planner.routing.refills.legs import Key, Node, RefillWay
from planner.routing.refills.sequence import OrderSequence
from planner.routing.refills.through import HomePrice, least_through

STEPS_OF_A_WAY = 10
"""So many steps along known ways take as long as finding one."""
SLACK = 1e-6
"""Money that floats may lose on the way."""
MOST_WAYS = 20_000
"""Of one truck; one that has more is left as it is."""


class RefillWays:
    """The ways of one truck that may cost at most `most`. nodes: in order, the departure first;
    least: least money of any, or what none is below where there are too many; looked: at how many;
    too_many: there are more, or there was no time."""

    def __init__(
        self, of: OrderSequence, most: float, over: Callable[[], bool] = lambda: False
    ) -> None:
        self.of, self.day, self.most, self._over = of, of.day, most, over
        self.looked = 0
        day = of.day
        truck, preferences = day.truck, day.preferences
        self.pay = truck.pay_per_min
        self.flow = max(day.sites[row][2] for row in range(len(day.sites)))
        self.once = day.day_cost + day.start_miles * truck.cost_per_mile
        self.once += preferences.of_orders(of.orders)
        """Money of any way."""
        self.once_idle = self.once + day.paid_least_min * self.pay
        """The same where no more hours are worked than paid in any case."""
        self.once += (day.start_min - truck.shift_start_min) * self.pay
        self.once -= truck.lunch_min * self.pay if day.start_lunched else 0.0
        yard = day.tables.problem.sites[day.tables.site_row[truck.yard_id]]
        self._loads_in_turn = yard.trucks_at_once is not None
        self.nodes: list[Node] = []
        self.too_many = False
        self._known: dict[Key, Node] = {}
        self._next: list[tuple[int, int, int, Node]] = []
        self._forward()
        self._backward()
        if self.too_many:
            self.least = max(self.once + self.of.least_money[0][-1], self.once_idle)
            return
        self.least = min(
            (max(self.once + r.rest, self.once_idle + r.rest_fixed) for r in self.roots),
            default=inf,
        )
        self._through()

    @property
    def roots(self) -> list[Node]:
        """The departures."""
        return [node for node in self.nodes if node.key.site < 0]

    def _forward(self) -> None:
        day = self.day
        start = list(day.tanks.start)
        for until in self.of.promises():
            key = Key(0, 0, -1, -1, day.start_lunched, tuple(start), tuple(sorted(until.items())))
            node = self._node(key, start)
            node.earliest, node.spent, node.fixed = day.start_min, 0.0, 0.0
        while self._next:
            *_, node = heapq.heappop(self._next)
            self.nodes.append(node)
            if self.looked > MOST_WAYS or self._over():
                self.too_many = True
                return
            for way in self._ways_from(node):
                node.ways.append(way)

    def _node(self, key: Key, levels: list[float]) -> Node:
        node = self._known.get(key)
        if node is None:
            node = self._known[key] = Node(key, levels)
            heapq.heappush(self._next, (key.gap, key.fills, len(self._known), node))
        return node

    def _ways_from(self, node: Node) -> Iterator[RefillWay]:
        day, of, key = self.day, self.of, node.key
        makes = day.first_makes if key.site < 0 else day.makes[key.site]
        due = dict(key.until)
        here = of.place_after(key.site)
        for until in range(key.gap, of.size + 1):
            if any(of.count[k][until] > count for k, count in due.items()):
                return
            if any(self._short(k, key.gap, of.count[k][until]) for k in makes if k in of.used):
                return
            if until > key.gap:
                here = of.steps[until - 1].place
            if until == of.size:
                yield from self._to(node, makes, None, until, here, {})
                return
            for site in of.sites:
                if until > key.gap or self._second(node, makes, site):
                    for kept in self._kept(makes, due, site, key.gap, until):
                        yield from self._to(node, makes, site, until, here, kept)

    def _short(self, mix: int, gap: int, until: int) -> bool:
        """Whether a mix does not last from a full tank."""
        need = self.of.need_gal(mix, self.of.count[mix][gap], until)
        return need > self.day.tanks.usable_gal[mix] + SLACK

    def _second(self, node: Node, makes: tuple[int, ...], site: int) -> bool:
        """Whether another site straight after makes sense: it makes what this one lacks, or saves
        the time of loading in the yard."""
        key, day = node.key, self.day
        if key.site < 0 and day.truck.loads and not day.is_out:
            return True
        if not self.of.limited or site == key.site or key.after >= 0:
            return False
        if key.site >= 0 and key.gap == 0 and not day.is_out:
            return False
        return any(k in day.makes[site] and k not in makes for k in self.of.used)

    def _kept(
        self, makes: tuple[int, ...], due: dict[int, int], site: int, gap: int, until: int
    ) -> Iterator[dict[int, int]]:
        """How long mixes that the next site does not make may be asked to last."""
        then = self.day.makes[site]
        ways: list[dict[int, int]] = [{}]
        for k in self.of.used:
            done = self.of.count[k][until]
            if k in then:
                if k not in makes and due[k] != done:
                    return
            elif k not in makes:
                ways = [way | {k: due[k]} for way in ways]
            else:
                lasts = [
                    count
                    for count in range(done, self.of.total(k) + 1)
                    if not self._short(k, gap, count)
                ]
                ways = [way | {k: count} for way in ways for count in lasts]
        yield from ways

    def _to(
        self,
        node: Node,
        makes: tuple[int, ...],
        site: int | None,
        until: int,
        here: int,
        kept: dict[int, int],
    ) -> Iterator[RefillWay]:
        """The ways on to a site before the order at `until`, or home."""
        day, of, key = self.day, self.of, node.key
        if site is None and any(count != of.total(k) for k, count in key.until):
            return
        there = day.yard_place if site is None else day.sites[site][0]
        least = node.spent + of.least_leg(key.site, key.gap, until, there)
        least += 0.0 if site is None else day.preferences.refill + of.least_money[until][site]
        if self.once + least > self.most + SLACK:
            return
        self.looked += 1
        filled = self._filled(node, makes, until, kept)
        if filled is None:
            return
        gal, levels, poured = filled
        fill_min, first, last, evening_min = self._fill_time(node, gal)
        fixed = of.leg_miles(key.site, key.gap, until, there) * day.truck.cost_per_mile
        fixed += 0.0 if site is None else day.preferences.refill
        drive = day.minutes[here][there]
        if first > last:
            return
        lacking = sum(
            max(
                0.0, of.need_gal(k, of.count[k][until], of.total(k)) - day.tanks.pumpable(levels, k)
            )
            for k in of.used
        )
        pour_min = lacking / self.flow
        for lunch, pieces in of.whole_leg(key.site, key.gap, until):
            if lunch and key.lunched:
                continue
            lunched = key.lunched or lunch
            beside_min = evening_min - (day.truck.lunch_min if lunch else 0.0)
            for piece in pieces:
                kept_piece = piece.later(drive).leaving(first, last)
                if kept_piece is not None:
                    way = self._way(
                        RefillWay(
                            node, None, fill_min, kept_piece, fixed, 0.0, poured, lunch, beside_min
                        ),
                        site,
                        until,
                        lunched,
                        levels,
                        pour_min,
                        kept,
                    )
                    if way is not None:
                        yield way

    def _fill_time(self, node: Node, gal: float) -> tuple[float, float, float, float]:
        """Minutes on the clock of so much at a node, when they are over at the earliest and at the
        latest, and minutes paid beside the clock (rule 38)."""
        day, truck, site = self.day, self.day.truck, node.key.site
        if site >= 0:
            _, setup, flow, opens, closes = day.sites[site]
            fill_min = setup + gal / flow
            first, last = max(node.earliest, opens) + fill_min, min(closes, truck.latest_return_min)
            return fill_min, first, last + SLACK_MIN, 0.0
        lasts = day.load_setup_min + gal / day.load_flow if gal > 0.0 else 0.0
        if truck.loads == "morning":
            first = node.earliest + lasts
            last = truck.latest_return_min if lasts and self._loads_in_turn else first
            return lasts, first, max(first, last), 0.0
        return 0.0, node.earliest, node.earliest, lasts if truck.loads else 0.0

    def _way(
        self,
        way: RefillWay,
        site: int | None,
        until: int,
        lunched: bool,
        levels: list[float],
        pour_min: float,
        kept: dict[int, int],
    ) -> RefillWay | None:
        """A way with its end and price, unless it is too late or too dear; its end knows of it."""
        day, of, pay, node = self.day, self.of, self.pay, way.start
        piece = way.piece.arriving(
            -inf, of.home_by(lunched) if site is None else day.sites[site][4]
        )
        if piece is None:
            return None
        rest = rest_min = rest_fixed = 0.0
        if site is not None:
            rest = of.least_money[until][site] + pour_min * pay
            rest_min = of.least_min[until][site] + pour_min
            rest_fixed = of.least_fixed[until][site]
        fixed = way.fixed + piece.wish
        limit = self.most + SLACK - self.once
        if self.once_idle + node.fixed + fixed + rest_fixed > self.most + SLACK:
            return None
        had = lunched and not day.start_lunched
        begun = day.start_min + (day.truck.lunch_min if had else 0.0)
        if pay > 0.0 and piece.at is None:
            most = begun + (limit - node.fixed - fixed - rest) / pay - piece.plus
            piece = piece.leaving(-inf, most)
            if piece is None:
                return None
        first = piece.arrival(piece.earliest)
        paid_least = pay * (way.fill_min + piece.least_min + way.beside_min) + fixed
        spent = max(node.spent + paid_least, pay * (first - begun) + node.fixed + fixed)
        if spent + rest + self._late(first + rest_min, lunched) > limit:
            return None
        end = None
        if site is not None:
            key = Key(
                until,
                node.key.fills + 1,
                site,
                node.key.site if until == node.key.gap else -1,
                lunched,
                tuple(round(level, 6) for level in levels),
                tuple(sorted(kept.items())),
            )
            end = self._node(key, levels)
            end.earliest = min(end.earliest, first)
            end.spent = min(end.spent, spent)
            end.fixed = min(end.fixed, node.fixed + fixed)
        return way._replace(end=end, piece=piece, fixed=fixed, paid_least=paid_least)

    def _late(self, home_min: float, lunched: bool) -> float:
        """Least money of overtime and uneven days of a truck that is home no earlier."""
        truck = self.day.truck
        paid = home_min - truck.shift_start_min - (truck.lunch_min if lunched else 0.0)
        wish = self.day.preferences.per_squared_min * max(0.0, paid - truck.lunch_min) ** 2
        return max(0.0, home_min - truck.shift_end_min) * truck.overtime_pay_per_min + wish

    def _filled(
        self, node: Node, makes: tuple[int, ...], until: int, kept: dict[int, int]
    ) -> tuple[float, list[float], tuple[float, ...]] | None:
        """Gallons poured, what is left at the next stop, and gallons poured by mix; None when it
        does not go in, or is too heavy."""
        day, of, gap = self.day, self.of, node.key.gap
        mixes = range(len(day.mixes))
        spray, hose, drawn = [0.0 for _ in mixes], [0.0 for _ in mixes], [0.0 for _ in mixes]
        for k in of.used:
            done, then = of.count[k][gap], of.count[k][until]
            drawn[k] = of.need_gal(k, done, then)
            if k in makes:
                last = kept.get(k, then)
                spray[k] = of.spray_of[k][last] - of.spray_of[k][done]
                hose[k] = of.hose_of[k][last] - of.hose_of[k][done]
        levels = node.levels.copy()
        gal = 0.0
        if node.key.site >= 0 or not day.is_out:
            gal = day.tanks.fill(levels, makes, spray, hose)
        if gal < 0.0:
            return None
        poured: tuple[float, ...] = ()
        if day.tables.problem.stock:
            rows_of = day.tanks.rows_of
            poured = tuple(sum(levels[row] - node.levels[row] for row in rows_of[k]) for k in mixes)
        day.tanks.draw(levels, drawn)
        return gal, levels, poured

    def stops(self, path: list[tuple[RefillWay, float]]) -> list[int]:
        """The stop order of ways from the departure home, each with the minute it is left at."""
        of, stops = self.of, []
        for way, leave_min in sorted(path, key=lambda one: one[0].start.key.fills):
            key = way.start.key
            until, there = of.size, self.day.yard_place
            if way.end is not None:
                until, there = way.end.key.gap, self.day.sites[way.end.key.site][0]
            if key.site >= 0:
                stops.append(self.day.orders + key.site)
            lunch = self._lunch_at(way, until, there, leave_min) if way.lunch else None
            for at in range(key.gap, until):
                stops += [LUNCH] if lunch == at else []
                stops.append(of.orders[at])
            stops += [LUNCH] if lunch == until else []
        return stops

    def _lunch_at(self, way: RefillWay, until: int, there: int, leave_min: float) -> int:
        """Where on a way lunch fits best: well inside the minutes at which it may be."""
        key, day = way.start.key, self.day
        here = self.of.place_after(key.site)
        if until > key.gap:
            here = self.of.steps[until - 1].place
        arrival = way.piece.arrival(leave_min)
        fits = []
        for at, pieces in self.of.leg(key.site, key.gap, until).items():
            for piece in pieces if at is not None else ():
                inside = min(leave_min - piece.earliest, piece.latest - leave_min)
                off = abs(piece.arrival(leave_min) + day.minutes[here][there] - arrival)
                fits.append((-min(0.0, inside) + off > 0.01, -min(inside, 1.0), at))
        return min(fits)[2]  # type: ignore[return-value]

    def _backward(self) -> None:
        """Keep the ways that lead home for the money, and the nodes that they come by."""
        if self.too_many:
            return
        for node in reversed(self.nodes):
            node.rest = min(
                (way.paid_least + (way.end.rest if way.end else 0.0) for way in node.ways),
                default=inf,
            )
            node.rest_fixed = min(
                (way.fixed + (way.end.rest_fixed if way.end else 0.0) for way in node.ways),
                default=inf,
            )
            spent = self.once + node.spent
            node.ways = [
                way
                for way in node.ways
                if spent + way.paid_least + (way.end.rest if way.end else 0.0) <= self.most + SLACK
            ]
        self._reachable()

    def _through(self) -> None:
        """Keep the ways that lie on a day for the money as the clock runs."""
        day, truck = self.day, self.day.truck
        price = HomePrice(
            self.once,
            self.pay,
            day.start_min,
            truck.shift_start_min + (truck.lunch_min if day.start_lunched else 0.0),
            day.paid_least_min,
            truck.shift_end_min,
            truck.overtime_pay_per_min,
            day.preferences.per_squared_min,
        )
        found = least_through(self.nodes, day.start_min, lambda site: day.sites[site][3], price)
        if found is None:
            return
        least, steps = found
        self.looked += steps // STEPS_OF_A_WAY
        for node in self.nodes:
            node.through = least[id(node)]
        self.least = max(self.least, min((min(r.through) for r in self.roots), default=inf))
        self.keep(self.most)

    def keep(self, most: float) -> None:
        """Keep the ways on days of at most so much money, where that is known."""
        for node in self.nodes:
            if len(node.through) != len(node.ways):
                return
            kept = [row for row, money in enumerate(node.through) if money <= most + SLACK]
            node.ways = [node.ways[row] for row in kept]
            node.through = [node.through[row] for row in kept]
        self._reachable()

    def _reachable(self) -> None:
        """Keep the nodes that a way leads to."""
        seen: set[int] = {id(node) for node in self.roots if node.ways}
        for node in self.nodes:
            if id(node) in seen:
                seen |= {id(way.end) for way in node.ways if way.end is not None}
        self.nodes = [node for node in self.nodes if id(node) in seen]
