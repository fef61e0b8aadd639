"""Which mix goes into which compartment of each truck, chosen by CP-SAT for the whole day.

A rough day is solved: orders are given to trucks by volume, minutes and neighborhood, without a
sequence. Refills, cleaning, trucks out, overtime and orders left out have their prices; each
neighborhood that a truck works in costs it a drive. Windows are left to the routing. Several
different answers are given, since only routing tells which of them is best.
"""

import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor, wait
from math import ceil, floor, inf
from typing import Any

from ortools.sat.python import cp_model

from planner.routing.problem import Loading, RoutingProblem, StopToken, TruckSpec

LOOK_S = 0.05


def solved(model: Any, effort: float, seed: int, stop: StopToken) -> Any:
    """The solver with its solution, None when there is none. effort: CP-SAT's own deterministic
    time (one is three to five seconds): the same day, the same answer."""
    solver, status = asked(model, effort, seed, stop)
    return solver if status in ("OPTIMAL", "FEASIBLE") else None


def asked(
    model: Any, effort: float, seed: int, stop: StopToken, until: float = inf
) -> tuple[Any, str]:
    """As solved(), with what became of it: OPTIMAL, FEASIBLE, INFEASIBLE or UNKNOWN. until: of
    time.monotonic(), at which it ends, too. Raises ValueError for a model that is none."""
    # Half a second to import: only where it is asked.
    from ortools.sat.python import cp_model

    # CP-SAT's classes are not typed for strict checking; Any goes no further than the callers.
    solver: Any = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = seed % 2**31
    solver.parameters.max_deterministic_time = effort
    # Ctrl-C belongs to whoever called the engine.
    solver.parameters.catch_sigint_signal = False
    # In a thread of its own, since Python hears no signal while CP-SAT works.
    with ThreadPoolExecutor(1) as pool:
        status = pool.submit(solver.solve, model)
        while not wait([status], LOOK_S).done:
            if stop.is_set or time.monotonic() >= until:
                solver.stop_search()
    name: str = solver.status_name(status.result())
    if name == "MODEL_INVALID":
        raise ValueError(model.validate())
    return solver, name


CENTS = 100
HUNDREDTHS_GAL = 100


def choose_loadings(
    problem: RoutingProblem,
    choices: int,
    seed: int,
    stop: StopToken,
    hint: Sequence[Loading] | None = None,
) -> list[list[Loading]]:
    """Up to `choices` good loadings of the fleet (one loading per truck, in order), best guess
    first; deterministic. hint: a start. Empty when a truck has no loading, or none has a choice."""
    if stop.is_set or not problem.orders or any(not truck.loadings for truck in problem.trucks):
        return []
    if all(len(truck.loadings) == 1 for truck in problem.trucks):
        return []
    model = _RoughDay(problem)
    if hint is not None:
        model.hint(hint)
    found: list[list[Loading]] = []
    tuning = problem.tuning
    for turn in range(choices):
        rows = model.solve(
            tuning.loading_first_effort if turn == 0 else tuning.loading_next_effort, seed, stop
        )
        if rows is None:
            break
        found.append([truck.loadings[row] for truck, row in zip(problem.trucks, rows, strict=True)])
        model.forbid(rows)
    return found


class _RoughDay:
    """The CP-SAT model. Integers: hundredths of gallons, cents, whole minutes; needs and minutes
    rounded up, room rounded down."""

    def __init__(self, problem: RoutingProblem) -> None:
        self.problem = problem
        # CP-SAT's classes are not typed for strict checking; Any stays inside this class.
        self.model: Any = cp_model.CpModel()
        self.money: list[Any] = []
        self.neighborhood, self.leg_min = _neighborhoods(problem)
        self.options = [
            truck.loadings[: problem.tuning.loading_options] for truck in problem.trucks
        ]
        self.loaded: list[list[Any]] = []
        self.gives: dict[tuple[int, int], Any] = {}
        for row in range(len(problem.trucks)):
            self._add_truck(row)
        for at, order in enumerate(problem.orders):
            left_out = self.model.new_bool_var("")
            given = [
                self.gives[at, row] for row in range(len(problem.trucks)) if (at, row) in self.gives
            ]
            self.model.add_exactly_one([*given, left_out])
            self.money.append(left_out * round(order.price * CENTS))
        self._like_trucks_in_order()
        self.model.minimize(sum(self.money))

    def _add_truck(self, row: int) -> None:
        problem, truck, model = self.problem, self.problem.trucks[row], self.model
        options = self.options[row]
        loaded = [model.new_bool_var("") for _ in options]
        model.add_exactly_one(loaded)
        self.loaded.append(loaded)
        for option, is_loaded in zip(options, loaded, strict=True):
            cleaning = option.cleaning_min * truck.pay_per_min
            if cleaning > 0:
                self.money.append(is_loaded * ceil(cleaning * CENTS))
        out = model.new_bool_var("")
        self.money.append(out * round(truck.cost_per_day * CENTS))
        room = [_room(truck, option) for option in options]
        visits: dict[int, Any] = {}
        for at, order in enumerate(problem.orders):
            if truck.truck_id not in order.allowed_trucks:
                continue
            fit = [
                is_loaded
                for is_loaded, mixes in zip(loaded, room, strict=True)
                if order.mix_id in mixes
                and mixes[order.mix_id][0] >= order.gal
                and mixes[order.mix_id][1] >= order.hose_run_ft
            ]
            if not fit:
                continue
            gives = model.new_bool_var("")
            self.gives[at, row] = gives
            model.add_bool_or([*fit, ~gives])
            model.add_implication(gives, out)
            place = self.neighborhood[at]
            if place not in visits:
                visits[place] = model.new_bool_var("")
                leg = self.leg_min[place] * (truck.pay_per_min + truck.cost_per_mile / 2.0)
                self.money.append(visits[place] * ceil(leg * CENTS))
            model.add_implication(gives, visits[place])
        self._add_refills(row, room, loaded, visits)

    def _add_refills(
        self,
        row: int,
        room: list[dict[str, tuple[float, float, float]]],
        loaded: list[Any],
        visits: dict[int, Any],
    ) -> None:
        """Refill stops are whole numbers; with each number goes a limit on gallons and pounds."""
        problem, truck, model = self.problem, self.problem.trucks[row], self.model
        mine = [at for at, _ in enumerate(problem.orders) if (at, row) in self.gives]
        if not mine:
            return
        refills = [model.new_bool_var("") for _ in range(problem.tuning.loading_refills + 1)]
        model.add_exactly_one(refills)
        yard = next(site for site in problem.sites if site.site_id == truck.yard_id)
        flow = max(site.fill_gal_per_min for site in problem.sites)
        usable = sum(part.capacity_gal for part in truck.compartments)
        stop_min = (
            min(site.setup_min for site in problem.sites) + problem.tuning.loading_refill_detour_min
        )
        stop_min += 0.6 * usable / flow
        for mix_id in sorted({problem.orders[at].mix_id for at in mine}):
            sprayed = sum(
                self.gives[at, row] * ceil(problem.orders[at].gal * HUNDREDTHS_GAL)
                for at in mine
                if problem.orders[at].mix_id == mix_id
            )
            at_yard = yard.mixes is None or mix_id in yard.mixes
            carried = sum(
                is_loaded * floor(problem.tuning.loading_packed * mixes[mix_id][0] * HUNDREDTHS_GAL)
                for is_loaded, mixes in zip(loaded, room, strict=True)
                if mix_id in mixes
            )
            for count, is_count in enumerate(refills):
                fills = count + 1 if at_yard else count
                if fills == 0:
                    carried_at_start = _left_over(truck, mix_id)
                    model.add(sprayed <= floor(carried_at_start * HUNDREDTHS_GAL)).only_enforce_if(
                        is_count
                    )
                else:
                    model.add(sprayed <= carried * fills).only_enforce_if(is_count)
        pounds = sum(
            self.gives[at, row]
            * ceil(problem.orders[at].gal * problem.density_lb_per_gal[problem.orders[at].mix_id])
            for at in mine
        )
        for count, is_count in enumerate(refills):
            model.add(
                pounds <= floor(problem.tuning.loading_packed * truck.payload_lb) * (count + 1)
            ).only_enforce_if(is_count)
            self.money.append(is_count * ceil(count * stop_min * truck.pay_per_min * CENTS))
        self._add_minutes(row, mine, refills, stop_min, visits)

    def _add_minutes(
        self, row: int, mine: list[int], refills: list[Any], stop_min: float, visits: dict[int, Any]
    ) -> None:
        problem, truck, model = self.problem, self.problem.trucks[row], self.model
        at_place: dict[int, int] = {}
        for order in problem.orders:
            at_place[order.place] = at_place.get(order.place, 0) + 1
        guns = {line.line_id: line.gun_gal_per_min for line in truck.lines}
        fastest = {
            mix_id: max(
                guns[part.line_id]
                for option in self.options[row]
                for part, loaded in zip(truck.compartments, option.mix_of, strict=True)
                if loaded == mix_id
            )
            for mix_id in {problem.orders[at].mix_id for at in mine}
        }
        minutes = sum(count * ceil(stop_min) * is_count for count, is_count in enumerate(refills))
        minutes += sum(ceil(self.leg_min[place]) * visits[place] for place in visits)
        for at in mine:
            order = problem.orders[at]
            spray = order.gal / fastest[order.mix_id]
            share = (
                problem.setup_min_per_visit + _step_min(problem, truck, order.place)
            ) / at_place[order.place]
            work = spray + share
            minutes += self.gives[at, row] * ceil(work)
            self.money.append(self.gives[at, row] * ceil(work * truck.pay_per_min * CENTS))
        regular = floor(truck.shift_end_min - truck.shift_start_min - truck.lunch_min)
        most = floor(truck.latest_return_min - truck.shift_start_min - truck.lunch_min)
        overtime = model.new_int_var(0, max(0, most - regular), "")
        model.add(minutes <= max(0, regular) + overtime)
        self.money.append(overtime * ceil(truck.overtime_pay_per_min * CENTS))

    def _like_trucks_in_order(self) -> None:
        """Of trucks that differ by name only, the later one has the later loading: without this
        the same answer is found once per renaming."""
        first_of: dict[object, int] = {}
        for row, truck in enumerate(self.problem.trucks):
            key = (
                truck.yard_id,
                truck.profile,
                truck.lines,
                truck.compartments,
                truck.loadings,
                truck.payload_lb,
                truck.shift_start_min,
                truck.latest_return_min,
                truck.cost_per_day,
                tuple(truck.truck_id in order.allowed_trucks for order in self.problem.orders),
            )
            before = first_of.get(key)
            first_of[key] = row
            if before is not None:
                self.model.add(
                    sum(place * var for place, var in enumerate(self.loaded[before]))
                    <= sum(place * var for place, var in enumerate(self.loaded[row]))
                )

    def hint(self, loadings: Sequence[Loading]) -> None:
        """Start from this loading."""
        for loaded, options, loading in zip(self.loaded, self.options, loadings, strict=True):
            for is_loaded, option in zip(loaded, options, strict=True):
                self.model.add_hint(is_loaded, int(option == loading))

    def solve(self, effort: float, seed: int, stop: StopToken) -> list[int] | None:
        """Rows of the loadings, or None when nothing (new) was found."""
        solver = solved(self.model, effort, seed, stop)
        if solver is None:
            return None
        return [
            next(place for place, var in enumerate(loaded) if solver.boolean_value(var))
            for loaded in self.loaded
        ]

    def forbid(self, rows: list[int]) -> None:
        """Ask for an answer next time that differs on a third of the trucks."""
        others = sum(1 - loaded[place] for loaded, place in zip(self.loaded, rows, strict=True))
        free = sum(len(loaded) > 1 for loaded in self.loaded)
        self.model.add(others >= max(1, free // 3))


def _room(truck: TruckSpec, loading: Loading) -> dict[str, tuple[float, float, float]]:
    """Per mix: usable gallons (less one hose), hose ft, gun gal/min."""
    lines = {line.line_id: line for line in truck.lines}
    room: dict[str, tuple[float, float, float]] = {}
    for part, mix_id in zip(truck.compartments, loading.mix_of, strict=True):
        if mix_id is not None:
            line = lines[part.line_id]
            before = room.get(mix_id, (0.0, 0.0, 0.0))[0]
            usable = before + part.capacity_gal - part.heel_gal
            room[mix_id] = (usable, line.hose_ft, line.gun_gal_per_min)
    return room


def _left_over(truck: TruckSpec, mix_id: str) -> float:
    return sum(
        max(0.0, part.start_gal - part.heel_gal)
        for part in truck.compartments
        if part.start_mix == mix_id
    )


def _step_min(problem: RoutingProblem, truck: TruckSpec, place: int) -> float:
    """A usual drive to a property from the order before it: to the second nearest of the day."""
    minutes = problem.drive_min[truck.profile][place]
    others = sorted(float(minutes[other]) for other in {order.place for order in problem.orders})
    return others[min(2, len(others) - 1)]


def _neighborhoods(problem: RoutingProblem) -> tuple[list[int], list[float]]:
    """Of each order its neighborhood, and the drive to each from the nearest other (or a yard).

    Centers are picked one by one, each the place farthest by drive from those before it.
    """
    minutes = problem.drive_min[0]
    yards = sorted({site.place for site in problem.sites})
    places = sorted({order.place for order in problem.orders})
    count = min(len(places), problem.tuning.loading_neighborhoods_per_truck * len(problem.trucks))
    centers: list[int] = []
    while len(centers) < count:
        taken = [*yards, *centers]
        rest = [place for place in places if place not in centers]
        centers.append(
            max(rest, key=lambda place: (min(float(minutes[t][place]) for t in taken), -place))
        )
    nearest = {
        place: min(range(count), key=lambda c: (float(minutes[centers[c]][place]), c))
        for place in places
    }
    legs = [
        min(float(minutes[other][center]) for other in [*yards, *centers] if other != center)
        for center in centers
    ]
    return [nearest[order.place] for order in problem.orders], legs
