"""Relaxations: what would have to be otherwise in the day, so that an order that is not served
fits, how a person would say it, and in which order they are looked at, from the simplest on."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from math import ceil, inf

from planner.day.clock import Window, clock_text, intersect
from planner.routing.problem import CompartmentSpec, Loading, OrderTask, RoutingProblem, TruckSpec
from planner.routing.repair.draft import Draft, nothing_loaded

ALWAYS = Window(-inf, inf)
"""No limit at all, not even the weather's: for finding out what bars an order."""
ANY_HOUR = Window(0.0, 2880.0)
"""Whatever hour the customer would have to name; the weather keeps its limits."""


@dataclass(frozen=True)
class Relaxation:
    """Changes to a day that belong together.

    truck_id: the truck that would do the order. one_more: not that truck but one more like it,
    with nothing else to do. loading: how it is then loaded, None = as it is. later_min: back so
    much later. payload_lb: so much more weight rating. window: a span added to those in which the
    order may be done. sites_open: sites fill at any hour. allowed: the order may be done by this
    truck. hose: a line of the truck and how long its hose is then, ft. compartment: one more, like
    the truck's compartment of that name (and reserved like it) but of so many gallons. parts: the
    order in so many equal orders.
    """

    truck_id: str
    one_more: bool = False
    loading: Loading | None = None
    later_min: float = 0.0
    payload_lb: float = 0.0
    window: Window | None = None
    sites_open: bool = False
    allowed: bool = False
    hose: tuple[str, float] | None = None
    compartment: tuple[str, float] | None = None
    parts: int = 1

    @property
    def kind(self) -> tuple[str, ...]:
        """Names of what is changed."""
        changed = {
            "one_more": self.one_more,
            "compartment": self.compartment is not None,
            "loading": self.loading is not None
            and not (self.one_more or self.compartment is not None),
            "allowed": self.allowed,
            "hose": self.hose is not None,
            "parts": self.parts > 1,
            "later_min": self.later_min > 0.0,
            "window": self.window is not None,
            "payload_lb": self.payload_lb > 0.0,
            "sites_open": self.sites_open,
        }
        return tuple(name for name, is_changed in changed.items() if is_changed)


def relaxed(problem: RoutingProblem, order: OrderTask, room: Relaxation) -> RoutingProblem:
    """The day with that room. The truck of `one_more` is not added: whoever asks takes the truck
    it is like with an empty day."""
    orders = problem.orders
    if room.window is not None or room.allowed or room.parts > 1:
        changed = replace(
            order,
            windows=_wider(order, room.window),
            allowed_trucks=order.allowed_trucks | ({room.truck_id} if room.allowed else set()),
            gal=order.gal / room.parts,
        )
        orders = tuple(changed if other is order else other for other in orders)
    sites = problem.sites
    if room.sites_open:
        sites = tuple(replace(site, open_min=None, close_min=None) for site in sites)
    trucks = tuple(
        _roomier(truck, room) if truck.truck_id == room.truck_id else truck
        for truck in problem.trucks
    )
    return replace(problem, orders=orders, sites=sites, trucks=trucks)


def _wider(order: OrderTask, added: Window | None) -> tuple[Window, ...] | None:
    """A customer's longer hours make no weather: what its label's limits close stays closed."""
    wider = joined(order.windows, added)
    return wider if added in (None, ALWAYS) else intersect(wider, order.weather)


def joined(windows: tuple[Window, ...] | None, added: Window | None) -> tuple[Window, ...] | None:
    """Windows with one more, those that touch made one; None stands for 'any time'."""
    if windows is None or added is None:
        return windows
    if added == ALWAYS:
        return None
    apart = []
    for window in windows:
        if window.close_min < added.open_min or window.open_min > added.close_min:
            apart.append(window)
        else:
            added = Window(
                min(added.open_min, window.open_min), max(added.close_min, window.close_min)
            )
    return tuple(sorted([*apart, added]))


def _roomier(truck: TruckSpec, room: Relaxation) -> TruckSpec:
    lines = truck.lines
    if room.hose is not None:
        line_id, hose_ft = room.hose
        # What a hose holds grows with its length.
        lines = tuple(
            replace(line, hose_ft=hose_ft, hose_gal=line.hose_gal * hose_ft / line.hose_ft)
            if line.line_id == line_id
            else line
            for line in lines
        )
    compartments = truck.compartments
    if room.compartment is not None:
        like_id, capacity_gal = room.compartment
        like = next(part for part in compartments if part.compartment_id == like_id)
        compartments = (*compartments, _added_compartment(compartments, like, capacity_gal))
    return replace(
        truck,
        latest_return_min=truck.latest_return_min + room.later_min,
        payload_lb=truck.payload_lb + room.payload_lb,
        lines=lines,
        compartments=compartments,
    )


def _added_compartment(
    parts: Iterable[CompartmentSpec], like: CompartmentSpec, capacity_gal: float
) -> CompartmentSpec:
    taken = {part.compartment_id for part in parts}
    number = len(taken) + 1
    while str(number) in taken:
        number += 1
    return replace(
        like,
        compartment_id=str(number),
        capacity_gal=capacity_gal,
        position=max(part.position for part in parts) + 1,
        start_gal=0.0,
        start_mix=None,
    )


def relaxation_text(room: Relaxation, truck: TruckSpec, order: OrderTask) -> str:
    """A room in words, to stand after 'what would make room: '."""
    if room.one_more:
        return f"one more truck and crew like {room.truck_id}"
    words = []
    if room.parts > 1:
        words.append(f"{room.parts} equal orders instead of one")
    if room.hose is not None:
        words.append(f"{room.hose[1]:g} ft of hose on line {room.hose[0]}")
    if room.compartment is not None:
        like_id, capacity_gal = room.compartment
        like = next(part for part in truck.compartments if part.compartment_id == like_id)
        reserved = f", reserved for {like.reserved_for}," if like.reserved_for else ""
        words.append(
            f"one more compartment of {capacity_gal:g} gal{reserved} for {order.mix_id} on line "
            f"{like.line_id}"
        )
    elif room.loading is not None:
        words.append(f"another loading ({_loaded(truck, room.loading)})")
    if room.window is not None:
        words.append(_window_text(room.window, order))
    if room.payload_lb > 0.0:
        words.append(f"{room.payload_lb:.0f} lb more weight rating")
    if room.sites_open:
        words.append("water points open at any hour")
    if room.later_min > 0.0:
        words.append(f"{room.later_min:.0f} more minutes")
    changes = " and ".join(words)
    if room.allowed:
        return f"allowing truck {room.truck_id}" + (f" and giving it {changes}" if words else "")
    if room.kind == ("sites_open",):
        return f"{changes} for truck {room.truck_id}"
    of_line = " on line " in words[-1]
    return f"{changes} {'of' if of_line else 'on'} truck {room.truck_id}"


def _loaded(truck: TruckSpec, loading: Loading) -> str:
    return ", ".join(
        f"{part.compartment_id}: {mix_id}"
        for part, mix_id in zip(truck.compartments, loading.mix_of, strict=True)
        if mix_id is not None
    )


def _window_text(window: Window, order: OrderTask) -> str:
    """What of a window is new to an order."""
    known = order.windows or ()
    if any(old.open_min == window.open_min for old in known):
        return f"a window until {clock_text(window.close_min)}"
    if any(old.close_min == window.close_min for old in known):
        return f"a window from {clock_text(window.open_min)}"
    return f"a window from {clock_text(window.open_min)} to {clock_text(window.close_min)}"


LATER, WINDOW, WEIGHT, SITES = RULES = ("later_min", "window", "payload_lb", "sites_open")
"""Rules that may stand in an order's way, by the field of Relaxation that loosens them."""

Offer = tuple[int, Relaxation, tuple[str, ...]]
"""Row of a truck, what is changed in any case, and the rules that may be loosened on top."""


def near_trucks(draft: Draft, order: int) -> list[int]:
    """Rows of all trucks, those whose day comes nearest to the order first."""
    place = draft.tables.place

    def away(row: int) -> tuple[float, int]:
        day = draft.days[row]
        seen = [place[other] for other in draft.orders_of(row)] or [day.yard_place]
        return min(day.minutes[here][place[order]] for here in seen), row

    return sorted(range(len(draft.days)), key=away)


def _as_loaded(draft: Draft, order: int) -> Iterator[Offer]:
    for row in near_trucks(draft, order)[: draft.tuning.unserved_trucks]:
        if draft.days[row].can[order]:
            yield row, Relaxation(draft.days[row].truck.truck_id), RULES


def _loaded_another_way(draft: Draft, order: int) -> Iterator[Offer]:
    for row in near_trucks(draft, order)[: draft.tuning.unserved_trucks]:
        for room in other_loadings(draft, order, row):
            yield row, room, (LATER, WINDOW)


def other_loadings(draft: Draft, order: int, row: int) -> Iterator[Relaxation]:
    """Other loadings with which the truck can still do all that it does."""
    problem = draft.tables.problem
    truck, task = problem.trucks[row], problem.orders[order]
    if truck.start is not None or truck.truck_id not in task.allowed_trucks:
        return
    needed = {problem.orders[other].mix_id for other in draft.orders_of(row)}
    for loading in most_of_mix(truck, task, needed)[: draft.tuning.unserved_loadings]:
        if loading != draft.days[row].loading:
            yield Relaxation(truck.truck_id, loading=loading)


def most_of_mix(truck: TruckSpec, task: OrderTask, needed: set[str]) -> list[Loading]:
    """Loadings that carry the needed mixes and the order's, with a hose and a compartment that
    serve the order; those with the most of its mix first."""
    hose = {line.line_id: line.hose_ft for line in truck.lines}
    offers = []
    for rank, loading in enumerate(truck.loadings):
        if task.mix_id not in loading.mix_of or not needed <= set(loading.mix_of):
            continue
        parts = [
            part
            for part, mix_id in zip(truck.compartments, loading.mix_of, strict=True)
            if mix_id == task.mix_id
        ]
        usable = sum(part.capacity_gal - part.heel_gal for part in parts)
        if hose[parts[0].line_id] >= task.hose_run_ft and usable >= task.gal:
            offers.append((-usable, rank, loading))
    return [loading for _, _, loading in sorted(offers, key=lambda offer: offer[:2])]


def _one_more_compartment(draft: Draft, order: int) -> Iterator[Offer]:
    """A further compartment, like one that may carry the mix, as large as the order needs."""
    task = draft.tables.problem.orders[order]
    for row in near_trucks(draft, order)[: draft.tuning.unserved_trucks]:
        day = draft.days[row]
        truck = day.truck
        if truck.start is not None or truck.truck_id not in task.allowed_trucks:
            continue
        asked = set()
        for at, part in enumerate(truck.compartments):
            line = next(line for line in truck.lines if line.line_id == part.line_id)
            if line.hose_ft < task.hose_run_ft or not _may_join(draft, row, at, task.mix_id):
                continue
            least = ceil(task.gal + line.hose_gal + part.heel_gal)
            capacity_gal = max(part.capacity_gal, float(least))
            if (part.line_id, capacity_gal) in asked:
                continue
            asked.add((part.line_id, capacity_gal))
            loading = _loading_now(draft, row)
            loading = replace(loading, mix_of=(*loading.mix_of, task.mix_id))
            room = Relaxation(
                truck.truck_id, loading=loading, compartment=(part.compartment_id, capacity_gal)
            )
            yield row, room, (LATER, WINDOW, WEIGHT)


def _loading_now(draft: Draft, row: int) -> Loading:
    """What the truck is loaded with; one that stays home carries nothing."""
    day = draft.days[row]
    return day.loading if draft.stops[row] else nothing_loaded(day.truck)


def _may_join(draft: Draft, row: int, at: int, mix_id: str) -> bool:
    """Whether a compartment like the one at that place, with that mix, may join what the truck
    carries. What may be carried together is read off the truck's loadings; what they leave in
    doubt counts as no."""
    day = draft.days[row]
    truck, now = day.truck, _loading_now(draft, row).mix_of
    line_id = truck.compartments[at].line_id
    if mix_id in now:
        # One mix, one line.
        return now[at] == mix_id
    if not any(loading.mix_of[at] == mix_id for loading in truck.loadings):
        return False
    for part, other in zip(truck.compartments, now, strict=True):
        if other is None:
            if part.start_mix not in (None, mix_id) and part.line_id == line_id:
                # It may owe a cleaning that only the tables know of.
                return False
            continue
        if not any(
            _on_line(truck, loading, line_id, mix_id)
            and _on_line(truck, loading, part.line_id, other)
            for loading in truck.loadings
        ):
            return False
    return True


def _on_line(truck: TruckSpec, loading: Loading, line_id: str, mix_id: str) -> bool:
    return any(
        loaded == mix_id and part.line_id == line_id
        for part, loaded in zip(truck.compartments, loading.mix_of, strict=True)
    )


def _barred(draft: Draft, order: int) -> Iterator[Offer]:
    """Trucks that the order excludes or whose hose is too short, as if neither were so."""
    task = draft.tables.problem.orders[order]
    for row in near_trucks(draft, order)[: draft.tuning.unserved_trucks]:
        day = draft.days[row]
        truck = day.truck
        if truck.truck_id in task.unlicensed_trucks:
            continue
        allowed = truck.truck_id not in task.allowed_trucks
        reachable = replace(task, hose_run_ft=0.0)
        needed = {draft.tables.problem.orders[other].mix_id for other in draft.orders_of(row)}
        other_ways = [] if truck.start is not None else most_of_mix(truck, reachable, needed)
        loadings = [day.loading] if task.mix_id in day.loading.mix_of else other_ways
        for loading in loadings[: draft.tuning.unserved_loadings]:
            at = loading.mix_of.index(task.mix_id)
            line_id = truck.compartments[at].line_id
            hose_ft = next(line.hose_ft for line in truck.lines if line.line_id == line_id)
            short = hose_ft < task.hose_run_ft
            if (short and truck.start is not None) or not (allowed or short):
                continue
            room = Relaxation(
                truck.truck_id,
                loading=None if loading == day.loading else loading,
                allowed=allowed,
                hose=(line_id, task.hose_run_ft) if short else None,
            )
            yield row, room, (LATER, WINDOW)


def _in_parts(draft: Draft, order: int) -> Iterator[Offer]:
    """The order in as few parts as its gallons ask for."""
    task = draft.tables.problem.orders[order]
    for row in near_trucks(draft, order)[: draft.tuning.unserved_trucks]:
        day = draft.days[row]
        truck = day.truck
        if truck.truck_id not in task.allowed_trucks or task.mix_id not in day.loading.mix_of:
            continue
        k = day.mixes.index(task.mix_id)
        usable = day.tanks.usable_gal[k] - day.hose_gal[day.line_of[k]]
        if day.truck.lines[day.line_of[k]].hose_ft < task.hose_run_ft or usable <= 0.0:
            continue
        parts = ceil(task.gal / usable)
        if 2 <= parts <= draft.tuning.unserved_parts:
            yield row, Relaxation(truck.truck_id, parts=parts), (LATER,)


OFFERS: tuple[Callable[[Draft, int], Iterator[Offer]], ...] = (
    _as_loaded,
    _loaded_another_way,
    _one_more_compartment,
    _barred,
    _in_parts,
)
"""From the simplest on; a later one is looked at when those before it make no room."""
