"""CP-SAT's choice of refills, lunches and turns for several trucks at once.

Each truck takes one path of its ways; how long it waits at a site follows from who else is there:
first come, first served, and nobody stands about without a reason. The clock is one sum per truck,
in thousandths of a minute.
"""

from collections import defaultdict
from collections.abc import Mapping
from math import ceil, floor, inf
from typing import Any

from planner.routing.problem import RoutingProblem
from planner.routing.refills.legs import Clock, FillClock, RefillWay
from planner.routing.refills.ways import RefillWays

TICKS = 1000
"""Of a minute."""
UNITS = 1_000_000_000
"""Of money."""
SPARE_TICKS = 3
"""By which rounding may miss the end of a window: what stands exactly must stand in ticks."""
STOCK_UNITS = 10_000


class RefillModel:
    """The model of the trucks in `ways` (by row of the problem). at_once: of the sites with few
    places, by row. most: a plan may cost so much; least: what each truck costs in any case."""

    def __init__(
        self,
        problem: RoutingProblem,
        ways: Mapping[int, RefillWays],
        most: float | None = None,
        least: Mapping[int, float] | None = None,
    ) -> None:
        self.problem, self.least = problem, least or {}
        self.ways = ways
        # Half a second and 60 MB to import: only where trucks meet at a site with few places.
        from ortools.sat.python import cp_model

        # CP-SAT's classes are not typed for strict checking; Any stays inside this class.
        self.model: Any = cp_model.CpModel()
        self.taken: dict[int, list[tuple[RefillWay, Any]]] = {}
        self._money: list[Any] = []
        self._leaves: dict[int, list[Any]] = defaultdict(list)
        self._once = 0.0
        self._fills: dict[int, list[FillClock]] = defaultdict(list)
        self._poured: list[list[Any]] = [[] for _ in problem.stock]
        self._at_once = {
            row: site.trucks_at_once
            for row, site in enumerate(problem.sites)
            if site.trucks_at_once is not None
        }
        for row in ways:
            self._add_truck(row)
        for site, fills in self._fills.items():
            self._add_queue(site, fills)
        for limit, used in zip(problem.stock, self._poured, strict=True):
            if used:
                self.model.add(sum(used) <= ceil(limit.in_store * STOCK_UNITS) + len(used))
        total = sum(self._money)
        if most is not None:
            self.model.add(total <= ceil((most - self._once) * UNITS))
        self.model.minimize(total)

    def cost_of(self, objective: float) -> float:
        """Money for a value (or bound) of the objective."""
        return objective / UNITS + self._once

    def stops(self, solver: Any) -> dict[int, list[int]]:
        """By truck, the stop order of the solution."""
        return {
            row: self.ways[row].stops(
                [
                    (way, solver.value(self._leaves[row][way.start.key.fills]) / TICKS)
                    for way, taken in choices
                    if solver.value(taken)
                ]
            )
            for row, choices in self.taken.items()
        }

    def turns(self, solver: Any) -> dict[int, int]:
        """By truck that loads in the morning where few can, its place in the order of loading."""
        begins = {
            one.row: solver.value(one.begin)
            for fills in self._fills.values()
            for one in fills
            if one.loads and solver.value(one.here)
        }
        return {row: place for place, row in enumerate(sorted(begins, key=begins.__getitem__))}

    def _add_truck(self, row: int) -> None:
        model, ways = self.model, self.ways[row]
        day = ways.day
        layers: dict[int, list[tuple[RefillWay, Any]]] = defaultdict(list)
        into: dict[int, list[Any]] = defaultdict(list)
        home: dict[int, list[Any]] = defaultdict(list)
        self.taken[row] = []
        start: list[Any] = []
        for node in ways.nodes:
            out = []
            for way in node.ways:
                taken = model.new_bool_var("")
                self.taken[row].append((way, taken))
                layers[node.key.fills].append((way, taken))
                out.append(taken)
                if way.end is None:
                    home[node.key.fills].append(taken)
                else:
                    into[id(way.end)].append(taken)
            if node.key.site < 0:
                start += out
            else:
                model.add(sum(out) == sum(into[id(node)]))
        model.add_exactly_one(start)
        self._add_stock(row)
        now = _ticks(day.start_min)
        clock = Clock(now, now, now, now)
        for layer in range(max(layers) + 1):
            fills = layer > 0 or any(way.fill_min for way, _ in layers[0])
            if fills:
                clock = self._fill(row, clock, layers[layer])
            self._leaves[row].append(clock.leave)
            clock = self._drive(layers[layer], clock, fills, home, layer)
        self._price(row, clock)

    def _fill(self, row: int, clock: Clock, choices: list[tuple[RefillWay, Any]]) -> Clock:
        """Waiting and pouring at a refill."""
        model, ways = self.model, self.ways[row]
        limited: dict[int, list[tuple[RefillWay, Any]]] = defaultdict(list)
        yard = ways.day.tables.site_row[ways.day.truck.yard_id]
        for way, taken in choices:
            site = way.start.key.site
            if site < 0 and way.fill_min > 0.0:
                site = yard
            if site in self._at_once:
                limited[site].append((way, taken))
        most = max(ceil(way.piece.latest * TICKS) for way, _ in choices) + SPARE_TICKS
        last = max(clock.last, most)
        ready = begin = self._opened(row, clock, choices, last)
        if limited:
            begin = model.new_int_var(clock.first, last, "")
            model.add(begin >= ready)
            crowd = self._any([taken for group in limited.values() for _, taken in group])
            model.add(begin == ready).only_enforce_if(crowd.negated())
        longest = max(_ticks(way.fill_min) for way, _ in choices)
        lasts = model.new_int_var(0, longest, "")
        model.add(lasts == sum(_ticks(way.fill_min) * taken for way, taken in choices))
        leave = model.new_int_var(clock.first, last, "")
        model.add(leave == begin + lasts)
        for site, group in limited.items():
            self._fills[site].append(
                FillClock(
                    row,
                    ways.day.truck.truck_id,
                    group[0][0].start.key.site < 0,
                    self._any([taken for _, taken in group]),
                    clock.arrive,
                    ready,
                    begin,
                    leave,
                    lasts,
                    min(floor((w.piece.earliest - w.fill_min) * TICKS) for w, _ in group),
                    max(ceil(w.piece.latest * TICKS) for w, _ in group),
                )
            )
        return Clock(clock.arrive, leave, clock.first, last)

    def _opened(
        self, row: int, clock: Clock, choices: list[tuple[RefillWay, Any]], last: int
    ) -> Any:
        """When a truck has arrived and the site is open."""
        model, opening = self.model, defaultdict(list)
        for way, taken in choices:
            site = way.start.key.site
            opens = self.ways[row].day.sites[site][3]
            if site >= 0 and opens * TICKS > clock.first:
                opening[_ticks(opens)].append(taken)
        if not opening:
            return clock.arrive
        ready, early = model.new_int_var(clock.first, last, ""), model.new_bool_var("")
        model.add(ready >= clock.arrive)
        model.add(ready == clock.arrive).only_enforce_if(early.negated())
        model.add_bool_or([*(one for some in opening.values() for one in some), early.negated()])
        for opens, some in opening.items():
            here = self._any(some)
            model.add(ready >= opens).only_enforce_if(here)
            model.add(ready == opens).only_enforce_if(here, early)
        return ready

    def _any(self, group: list[Any]) -> Any:
        """Whether one of these (of which at most one is taken) is."""
        if len(group) == 1:
            return group[0]
        here = self.model.new_bool_var("")
        self.model.add(sum(group) == here)
        return here

    def _drive(
        self,
        choices: list[tuple[RefillWay, Any]],
        clock: Clock,
        bound: bool,
        home: Mapping[int, list[Any]],
        layer: int,
    ) -> Clock:
        """From a fill to the arrival at the next, or home; a truck at home stays there."""
        model = self.model
        first, last = inf, -inf
        moves: list[Any] = []
        swallowed: list[tuple[int, Any]] = []
        for way, taken in choices:
            piece = way.piece
            earliest, latest = floor(piece.earliest * TICKS), ceil(piece.latest * TICKS)
            latest = min(latest, clock.last)
            earliest = max(earliest, clock.first)
            if piece.at is None:
                plus = _ticks(piece.plus)
                first = min(first, earliest + plus)
                last = max(last, latest + plus)
            else:
                plus = _ticks(piece.at) - latest
                swallowed.append((latest - earliest + 2 * SPARE_TICKS, taken))
                first, last = min(first, _ticks(piece.at)), max(last, _ticks(piece.at))
            moves.append(plus * taken)
            if bound and earliest - SPARE_TICKS > clock.first:
                model.add(clock.leave >= earliest - SPARE_TICKS).only_enforce_if(taken)
            if bound and latest + SPARE_TICKS < clock.last:
                model.add(clock.leave <= latest + SPARE_TICKS).only_enforce_if(taken)
        gone = [taken for before in range(layer) for taken in home.get(before, ())]
        if gone:
            first, last = min(first, clock.first), max(last, clock.last)
        first, last = int(first) - SPARE_TICKS, int(last) + SPARE_TICKS
        arrive = model.new_int_var(first, last, "")
        wait: Any = 0
        if swallowed:
            most = max(span for span, _ in swallowed)
            wait = model.new_int_var(0, most, "")
            model.add(wait <= sum(span * taken for span, taken in swallowed))
            for way, taken in choices:
                if way.piece.at is not None:
                    model.add(arrive == _ticks(way.piece.at)).only_enforce_if(taken)
        model.add(arrive == clock.leave + sum(moves) + wait)
        return Clock(arrive, arrive, first, last)

    def _price(self, row: int, clock: Clock) -> None:
        """Pay, overtime, miles and wishes of a truck that is home then."""
        model, ways = self.model, self.ways[row]
        day, truck = ways.day, ways.day.truck
        money = [_units(way.fixed) * taken for way, taken in self.taken[row]]
        per_tick = _units(ways.pay / TICKS)
        beside = sum(_ticks(w.beside_min) * taken for w, taken in self.taken[row] if w.beside_min)
        money.append(per_tick * (clock.arrive - _ticks(day.start_min) + beside))
        shift, lunch = _ticks(truck.shift_start_min), _ticks(truck.lunch_min)
        paid = clock.arrive - shift + beside - (lunch if day.start_lunched else 0)
        if day.paid_least_min > 0.0:
            owed = _ticks(day.paid_least_min)
            unworked = model.new_int_var(0, max(0, owed + lunch - clock.first + shift), "")
            model.add(unworked >= owed - paid)
            money.append(per_tick * unworked)
        end = _ticks(truck.shift_end_min)
        if truck.overtime_pay_per_min > 0.0 and clock.last > end:
            late = model.new_int_var(max(0, clock.first - end), clock.last - end, "")
            model.add(late >= clock.arrive - end)
            money.append(_units(truck.overtime_pay_per_min / TICKS) * late)
        squared = day.preferences.per_squared_min
        if squared > 0.0:
            most = (clock.last - shift) / TICKS
            most += max(0.0, *(way.beside_min for way, _ in self.taken[row]))
            wish = model.new_int_var(0, _units(squared * most * most), "")
            # Tangents: never more than the square, and within a minute of each all but equal.
            for minutes in range(
                max(0, int((clock.first - shift - lunch) / TICKS)), int(most) + 2, 2
            ):
                slope = _units(2.0 * squared * minutes / TICKS)
                model.add(wish >= slope * paid - _units(squared * minutes * minutes))
            money.append(wish)
        self._once += ways.once
        self._money.append(sum(money))
        if row in self.least:
            least = self.least[row] - ways.once
            model.add(self._money[-1] >= floor(least * UNITS))

    def _add_stock(self, row: int) -> None:
        """What a truck takes out of the store (rule 27)."""
        mixes = self.ways[row].day.mixes
        for limit, used in zip(self.problem.stock, self._poured, strict=True):
            for way, taken in self.taken[row]:
                amount = sum(
                    gal * limit.per_gal.get(mix, 0.0)
                    for mix, gal in zip(mixes, way.poured, strict=True)
                )
                if amount > 0.0:
                    used.append(floor(amount * STOCK_UNITS) * taken)

    def _add_queue(self, site: int, fills: list[FillClock]) -> None:
        """First come, first served (rule 28); in the morning in any order (rule 38)."""
        model, at_once = self.model, self.problem.sites[site].trucks_at_once
        assert at_once is not None
        busy = sorted(_ticks(until) for until in self.problem.sites[site].busy_until)[-at_once:]
        spans = [
            model.new_optional_interval_var(one.begin, one.lasts, one.leave, one.here, "")
            for one in fills
        ]
        if at_once == 1:
            model.add_no_overlap(spans)
        else:
            spans += [model.new_fixed_size_interval_var(0, until, "") for until in busy]
            model.add_cumulative(spans, [1] * len(spans), at_once)
        if not all(one.loads for one in fills):
            self._come_in_turn([one for one in fills if one.loads], at_once)
        before: dict[int, list[tuple[Any, list[Any]]]] = defaultdict(list)
        for row, one in enumerate(fills):
            for other in fills[row + 1 :]:
                if one.name == other.name or one.last <= other.first or other.last <= one.first:
                    continue
                if one.loads and other.loads:
                    before[id(one)].append((other.leave, [other.here]))
                    before[id(other)].append((one.leave, [one.here]))
                    continue
                a, b = sorted((one, other), key=lambda fill: (not fill.loads, fill.name))
                goes_first = model.new_bool_var("")
                both = (a.here, b.here)
                model.add(a.arrive <= b.arrive).only_enforce_if(goes_first, *both)
                model.add(b.arrive < a.arrive).only_enforce_if(goes_first.negated(), *both)
                for early, late, so in ((a, b, goes_first), (b, a, goes_first.negated())):
                    if at_once == 1 or not late.loads:
                        begun = early.leave if at_once == 1 else early.begin
                        model.add(late.begin >= begun).only_enforce_if(so, *both)
                    before[id(late)].append((early.leave, [so, early.here]))
        for one in fills:
            if at_once == 1 and busy:
                model.add(one.begin >= busy[-1]).only_enforce_if(one.here)
            reasons = [one.here.negated()]
            waits = [(one.ready, []), *before[id(one)], *((until, []) for until in busy)]
            for until, facts in waits:
                reason = model.new_bool_var("")
                model.add(one.begin == until).only_enforce_if(reason)
                for fact in facts:
                    model.add_implication(reason, fact)
                reasons.append(reason)
            model.add_bool_or(reasons)

    def _come_in_turn(self, loads: list[FillClock], at_once: int) -> None:
        """A load comes when its truck and all that are loaded before it are ready."""
        model = self.model
        for one in loads:
            comes = [one.ready]
            for other in loads:
                if other.ready <= one.ready:
                    continue
                first = model.new_bool_var("")
                both = (one.here, other.here)
                begun = other.leave if at_once == 1 else other.begin
                model.add(one.begin >= begun).only_enforce_if(first, *both)
                model.add(other.begin >= one.begin).only_enforce_if(first.negated(), *both)
                model.add_implication(first, other.here)
                comes.append(one.ready + (other.ready - one.ready) * first)
            if len(comes) > 1:
                one.arrive = model.new_int_var(one.ready, max(load.ready for load in loads), "")
                model.add_max_equality(one.arrive, comes)


def _ticks(minutes: float) -> int:
    return round(minutes * TICKS)


def _units(money: float) -> int:
    return round(money * UNITS)
